"""English: which questions work."""

from __future__ import annotations

from collections.abc import Mapping

from bot.words.en.evidence.bounds import bounded

TEXTS: Mapping[str, str | Mapping[str, str]] = {
    "questions.title": "*{title} · questions*",
    "questions.none": "There are no questions yet.",
    "questions.summary": {
        "one": (
            "{n} question in use: {look} to look at, {fine} without a finding, {few} with too few answers to tell."
        ),
        "other": (
            "{n} questions in use: {look} to look at, {fine} without a finding, {few} with too few answers to tell."
        ),
    },
    "questions.line": "*{topic}*: {prompt}\n{finding}",
    "questions.more": {"one": "and {n} more, see the workbook", "other": "and {n} more, see the workbook"},
    "questions.note": (
        "Facility here is that of questions asked when they are about to be forgotten; it is no exam's. Few "
        "answers, no verdict."
    ),
    "questions.check_key": (
        "Students who do well elsewhere tend to choose {options}. Check which option is marked as right, and the "
        "wording."
    ),
    "questions.negative": (
        "Students who do well elsewhere do worse here ({discrimination}). Check the key and the wording."
    ),
    "questions.too_hard": (
        "Right in only {facility}. Ask about a smaller step, or teach the point again before asking."
    ),
    "questions.harder": (
        "Right in {facility}, where about {expected} were expected from the class's retention. Reword it, or ask "
        "about a smaller step."
    ),
    "questions.unsure": (
        "{unsure} say “not sure”. The question may ask for something that was not taught in these words."
    ),
    "questions.too_easy": "Right in {facility}. Fine to start with, but it tells you nothing new.",
    "questions.flat": "It hardly tells strong from weak ({discrimination}). Rewrite it, or use another.",
    "questions.idle_option": (
        "Hardly anybody takes {options}. Replace it by a mistake that students really make."
    ),
    "questions.fine": "Nothing speaks against it.",
    "questions.few": "Too few answers to tell ({students} of {needed} students).",
    "questions.correlation": "{mean} ({low} to {high})",
    "band.very_good": "very good",
    "band.good": "reasonably good",
    "band.marginal": "marginal, usually needs work",
    "band.poor": "poor",
    "band.negative": "negative: check the key",
    "band.unknown": "too few answers",
    "kind.choice": "choice",
    "kind.number": "number",
    "kind.text": "text",
    "kind.formula": "formula",
    "table.questions": "Questions",
    "table.options": "Options",
    "readme.questions": (
        "Drawn up {moment}. Facility and discrimination take the first answer of each student to a question."
    ),
    "readme.bands": (
        "Discrimination is the correlation of having the question right with the share right on all other "
        "questions. It is read after Ebel and Frisbie (1991): .40 and up very good, .30 to .39 reasonably good, "
        ".20 to .29 marginal, below .20 poor."
    ),
    "column.question": "Question",
    "column.question.note": "The question as students see it.",
    "column.kind": "Kind",
    "column.kind.note": "Choice, number, text or formula.",
    "column.in_use": "In use",
    "column.in_use.note": "Whether it is still asked.",
    "column.verdict": "Verdict",
    "column.verdict.note": "What the answers say, why, and what to do. Only where there are enough of them.",
    "column.students_answered": "Students",
    "column.students_answered.note": "Students who have answered it at least once.",
    "column.all_answers": "Answers",
    "column.all_answers.note": "All answers, repeated ones too.",
    "column.facility": "Facility",
    "column.facility.note": "Share of right first answers. 1 is easiest.",
    "column.corrected": "Without guessing",
    "column.corrected.note": (
        "Facility corrected for guessing: right minus wrong / (options - 1). Choices only."
    ),
    "column.expected": "Expected",
    "column.expected.note": "What the predictions made beforehand of the same answers.",
    "column.discrimination": "Discrimination",
    "column.discrimination.note": (
        "Correlation with the share right on all other questions, pulled towards that of the other questions of its "
        "kind, the more the fewer the answers. Empty under 15 students, where it could be anything."
    ),
    "column.band": "Reading",
    "column.band.note": (
        "Discrimination read after Ebel and Frisbie (1991), where its interval leaves two neighbouring readings at "
        "most; a bad one only where it is no chance among all questions of the class."
    ),
    "column.unsure": "Not sure",
    "column.unsure.note": "Share of answers that say “not sure”.",
    "column.seconds": "Seconds",
    "column.seconds.note": "Median time from question to answer, in seconds.",
    "column.seconds_low": "quarter below",
    "column.seconds_low.note": "A quarter of the answers came faster.",
    "column.seconds_high": "quarter above",
    "column.seconds_high.note": "A quarter of the answers took longer.",
    "column.option": "Option",
    "column.option.note": "The option as students see it.",
    "column.is_right": "Right",
    "column.is_right.note": "Whether it is the right one.",
    "column.taken": "Taken",
    "column.taken.note": "How often it was chosen.",
    "column.taken_share": "Share",
    "column.taken_share.note": "Share of the answers that chose an option; empty under 5 of them.",
    "column.option_discrimination": "Discrimination",
    "column.option_discrimination.note": (
        "Correlation of choosing it with the share right elsewhere. A wrong option that works is below 0."
    ),
    **bounded("facility", "discrimination", "unsure", "taken_share"),
}
