"""A quiz against what was predicted for it: numbers, text, picture, tables."""
