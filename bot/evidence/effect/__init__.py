"""What reviewing did: what is known today, beside what would be known without any review."""
