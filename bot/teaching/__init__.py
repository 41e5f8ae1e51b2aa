"""The rules of teaching that everything keeps to, each in one place."""
