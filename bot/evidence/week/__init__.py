"""The weekly completion report: numbers, text, picture, tables."""
