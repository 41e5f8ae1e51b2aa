"""What is said: conversations, chat adapters, grading, the teacher's evidence, the running program."""
