"""What one student sees and takes home: the own topics, the letter."""
