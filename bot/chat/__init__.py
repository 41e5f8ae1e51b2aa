"""The port between conversations and chat applications, and its adapters."""
