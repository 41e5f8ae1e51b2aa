"""Readers of what teachers upload: bytes to plain values, or every problem found."""
