"""Answers as open learning records."""
