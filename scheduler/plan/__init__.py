"""What to ask whom on which evening: the days ahead, the allocation, today's choice."""
