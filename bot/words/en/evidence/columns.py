"""English: headings and notes of the tables that workbooks and CSV files are made of."""

from __future__ import annotations

from collections.abc import Mapping

from bot.words.en.evidence.bounds import bounded

TEXTS: Mapping[str, str | Mapping[str, str]] = {
    "evidence.yes": "yes",
    "evidence.no": "no",
    "state.waiting": "waiting for permission",
    "state.active": "active",
    "state.paused": "paused",
    "state.left": "left",
    "table.students": "Students",
    "table.topics": "Topics",
    "table.class": "Class",
    "table.readme": "Read me",
    "readme.week": (
        "A question belongs to the week in which it was asked, Monday to Sunday ({span}, {zone}). Drawn up "
        "{moment}."
    ),
    "readme.order": "Students stand in alphabetical order. Nothing here ranks them, and nothing here is a grade.",
    "readme.private": "This file holds data about students, most of them minors: keep it as your school's rules ask.",
    "column.student": "Student",
    "column.student.note": "The name that the student chose, in alphabetical order.",
    "column.state": "State",
    "column.state.note": "Whether the student is asked at present.",
    "column.asked": "Asked",
    "column.asked.note": "Questions sent by nudges in this week.",
    "column.answered": "Answered",
    "column.answered.note": "Of those, answered until the moment of this report, on time or late.",
    "column.on_time": "On time",
    "column.on_time.note": "Answered on the day of its nudge.",
    "column.late": "Late",
    "column.late.note": "Answered on a later day.",
    "column.waiting": "Still open",
    "column.waiting.note": "Not yet answered, but there is still time.",
    "column.unanswered": "Unanswered",
    "column.unanswered.note": "Not answered, and the time is over.",
    "column.extra": "Extra",
    "column.extra.note": "Answers to questions that students asked for themselves; not part of the columns before.",
    "column.right": "Right",
    "column.right.note": 'Right answers of the week, extra ones too. "Not sure" counts as not right.',
    "column.answers": "Of answers",
    "column.answers.note": "All answers of the week, extra ones too.",
    "column.right_share": "Right, %",
    "column.right_share.note": "Share of right answers; empty under 5 answers, because it would say nothing.",
    "column.due": "Due",
    "column.due.note": "Reviews planned or open at the moment of this report.",
    "column.retention_now": "Retention now",
    "column.retention_now.note": (
        "Predicted probability of answering without help at the moment of this report, mean over what was taught "
        "so far. A prediction, not a grade."
    ),
    "column.retention_quiz": "On quiz day",
    "column.retention_quiz.note": (
        "The same for the topics of the next quiz on its date, as things stand: without any further review."
    ),
    "column.answers_ever": "Answers so far",
    "column.answers_ever.note": "Answers that the predictions rest on. Under 5 there is too little to tell.",
    "column.delay": "Hours to answer",
    "column.delay.note": "Median time from nudge to answer in this week, in hours.",
    "column.usual_delay": "Usually",
    "column.usual_delay.note": "The same over the four weeks before.",
    "column.last_answer": "Last answer",
    "column.last_answer.note": "When the student last answered anything, on the class's clock.",
    "column.talk_to": "Talk to, because",
    "column.talk_to.note": (
        "Why a word with this student may help: silent for a week, slower than usual, surely below half."
    ),
    "column.good_word": "A good word, because",
    "column.good_word.note": (
        "What deserves a private word. Compared only with the student's own weeks and predictions."
    ),
    "column.topic": "Topic",
    "column.topic.note": "In the order in which they were taught.",
    "column.taught_on": "Taught on",
    "column.taught_on.note": "Day of the first lesson.",
    "column.in_quiz": "In quiz",
    "column.in_quiz.note": "Whether the next quiz covers it.",
    "column.standing": "Against half",
    "column.standing.note": "Where the prediction for the quiz stands against half, and how sure that is.",
    "column.students": "Students",
    "column.students.note": "Students who have joined.",
    "column.active": "Active",
    "column.active.note": "Of those, students who are asked at present.",
    "column.answered_once": "Answered once",
    "column.answered_once.note": "Students with at least one answer in the week.",
    "column.completion": "Answered, %",
    "column.completion.note": "Answered of asked. The bounds allow for answers of one student being alike.",
    "column.completion_before": "Week before, %",
    "column.completion_before.note": "The same for the week before.",
    "column.change": "Change",
    "column.change.note": "This week's share answered minus that of the week before, in points of 100.",
    **bounded("right_share", "retention_now", "retention_quiz", "completion", "completion_before", "change"),
}
