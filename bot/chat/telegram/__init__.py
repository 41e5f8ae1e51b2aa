"""Telegram: the adapter behind the chat port."""
