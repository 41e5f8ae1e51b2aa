"""The dose of a class: what a number of questions, or a target, leads to."""
