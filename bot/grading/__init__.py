"""Is this answer right. Pure: an answer key and what was given in, a verdict out."""
