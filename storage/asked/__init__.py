"""What students were asked and what they answered."""
