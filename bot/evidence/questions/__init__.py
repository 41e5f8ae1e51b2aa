"""Which questions work: numbers, text, tables."""
