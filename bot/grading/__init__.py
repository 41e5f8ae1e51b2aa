"""Is this answer right: keys of questions and verdicts on answers."""
