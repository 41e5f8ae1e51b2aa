"""Classes, people, timetables, questions and scores: what teachers and students set up."""
