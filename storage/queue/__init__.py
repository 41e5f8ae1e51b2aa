"""What came in, what goes out, what is due, and who may do it."""
