"""The forecast for a date that counts: numbers, text, picture, tables."""
