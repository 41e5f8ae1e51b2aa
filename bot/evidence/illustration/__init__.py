"""Pictures to show: what reviewing does, on the class's own topics and on simulated classes."""
