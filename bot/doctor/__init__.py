"""What is right and what is not, in plain words, before the program is started."""
