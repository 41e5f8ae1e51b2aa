"""Statistics of answers: questions that work or do not, and how good predictions were."""
