"""Timetable sheets and calendars to lessons, quizzes and holidays."""
