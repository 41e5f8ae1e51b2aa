"""The starter of a lesson: numbers, text, pages to project."""
