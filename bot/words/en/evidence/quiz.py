"""English: a quiz against its predictions."""

from __future__ import annotations

from collections.abc import Mapping

from bot.words.en.evidence.bounds import bounded

TEXTS: Mapping[str, str | Mapping[str, str]] = {
    "quiz.title": "*{title} · {what}: predicted and actual*",
    "quiz.quiz": "quiz of {day}",
    "quiz.exam": "exam of {day}",
    "quiz.overall": "Predicted {predicted}, actual {actual}, {n} students.",
    "quiz.fit.as_predicted": "That is as predicted.",
    "quiz.fit.higher": "That is higher than predicted.",
    "quiz.fit.lower": "That is lower than predicted.",
    "quiz.error": {
        "one": "The prediction rested on {n} answer; a single student came out {error} points off it on average.",
        "other": "The prediction rested on {n} answers; a single student came out {error} points off it on average.",
    },
    "quiz.lower": "Lower than predicted: {names}.",
    "quiz.higher": "Higher than predicted: {names}.",
    "quiz.topic": "{topic} ({predicted} predicted, {actual} actual)",
    "quiz.students_lower": "Did clearly worse than predicted: {names}.",
    "quiz.students_higher": "Did clearly better than predicted: {names}.",
    "quiz.nobody": "Nobody and no topic was clearly off.",
    "quiz.moved": "The scores moved the predictions by {moved} points on average{most}.",
    "quiz.moved_most": ", most for {topic} ({moved})",
    "quiz.missing": {"one": "No score for {names}.", "other": "No score for {names}."},
    "quiz.no_scores": "There are no scores for this quiz yet. Send a file with the scores first.",
    "quiz.nothing_to_compare": (
        "None of the scores is of a topic that had been taught before the quiz, so there is nothing to compare. "
        "See the quiz's topics in the timetable."
    ),
    "quiz.none_then": "There was no quiz on {day}.",
    "quiz.no_quiz": "There is no quiz with scores yet. Send a file with the scores first.",
    "quiz.picture.title": "Predicted and actual",
    "quiz.picture.subtitle": "{title} · {what} · {n} students",
    "quiz.picture.overall": "Predicted {predicted}, actual {actual}",
    "quiz.picture.predicted": "predicted, % (small figures: scores behind a point)",
    "quiz.picture.actual": "actual, %",
    "quiz.picture.exact": "exact",
    "quiz.picture.topics": "Topics, in the order taught",
    "quiz.picture.legend": "ring: predicted · filled: actual · figure: points between",
    "quiz.picture.few": "Too few scores for a curve.",
    "quiz.picture.how": "Bar: in 4 of 5 cases the true mean lies inside.",
    "table.quiz_students": "Students",
    "table.quiz_topics": "Topics",
    "readme.quiz": (
        "Predicted is what was expected for the moment of the quiz from everything before it. Moved is how far "
        "that prediction went once the scores were known."
    ),
    "readme.quiz_scores": (
        "A score on a topic counts in the model like several self-checks; a score for the whole quiz says less "
        "about each topic. It is no review: a quiz without an explanation is not counted as learning."
    ),
    "column.predicted": "Predicted",
    "column.predicted.note": "Expected share for the moment of the quiz, from what was known before it.",
    "column.actual": "Actual",
    "column.actual.note": "Share reached.",
    "column.difference": "Difference",
    "column.difference.note": "Actual minus predicted, in points of 100.",
    "column.fit": "Compared",
    "column.fit.note": "Off only where chance and the uncertainty of the prediction do not explain the difference.",
    "column.moved": "Moved",
    "column.moved.note": "How far the prediction for that moment moved once the scores were known.",
    "column.scores": "Scores",
    "column.scores.note": "Scores behind the row.",
    "fit.as_predicted": "as predicted",
    "fit.higher": "higher than predicted",
    "fit.lower": "lower than predicted",
    **bounded("predicted", "actual"),
}
