"""Matrix: the adapter behind the chat port."""
