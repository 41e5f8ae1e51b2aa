"""A class's evening: planned, asked, opened question by question."""
