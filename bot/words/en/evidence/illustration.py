"""English: the illustration that a class is shown."""

from __future__ import annotations

from collections.abc import Mapping

TEXTS: Mapping[str, str | Mapping[str, str]] = {
    "illustration.title": "What stays of what we learn",
    "illustration.lead": (
        "*{title}: what stays of what we learn.* A rule of thumb on our own timetable, no prediction."
    ),
    "illustration.subtitle": "{title} · a rule of thumb, from our timetable",
    "illustration.axis": "of 100, mean over the topics so far",
    "illustration.quiz": "On the quiz, {day}, of 100 remain:",
    "illustration.end": "On {day}, of 100 remain:",
    "illustration.levels": "{none} with no review, {one} with one, {two} with two, {three} with three.",
    "illustration.reviews.0": "no review",
    "illustration.reviews.1": "1 review",
    "illustration.reviews.2": "2 reviews",
    "illustration.reviews.3": "3 reviews",
    "illustration.reviews.many": "3 or more",
    "illustration.quiz_mark": "quiz",
    "illustration.measured": "What our own answers show",
    "illustration.measured_axis": "days since we last met the topic",
    "illustration.measured_line": "Our own answers, {reviews} before: {points}.",
    "illustration.measured_point": "{days}: {figure}",
    "illustration.days": {"one": "after {n} day", "other": "after {n} days"},
    "illustration.day_range": "after {first}–{last} days",
    "illustration.not_measured": "Our own curve comes when there are enough answers.",
    "illustration.how": "Reviews: on the lesson's own day, after 3 and 10 days.",
}
