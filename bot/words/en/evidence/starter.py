"""English: the starter, as text and as pictures to project."""

from __future__ import annotations

from collections.abc import Mapping

TEXTS: Mapping[str, str | Mapping[str, str]] = {
    "starter.title": "*Starter for {title}, {day}*",
    "starter.lead": "These questions gain this class most before {target}.",
    "starter.quiz": "the quiz on {day}",
    "starter.exam": "the exam on {day}",
    "starter.date": "{day}",
    "starter.question": "*{number} · {topic}*  {prompt}",
    "starter.option": "{letter}  {option}",
    "starter.gain": "(about {now} know it now; asking everybody adds about {gain} points)",
    "starter.picture_missing": "(with a picture: show it from the question)",
    "starter.none": "There is no question in use for any topic that would gain, so there is no starter.",
    "starter.missing": "These topics would gain as well, but have no question: {topics}.",
    "starter.answers": "*Starter for {title}, answers*",
    "starter.answer": "*{number} · {answer}*  {explanation}",
    "starter.enter": "Afterwards tell me how many had each right, for example: {example}",
    "starter.counts": "{counts} of {present}",
    "starter.page.questions": "Starter",
    "starter.page.answers": "Starter: answers",
    "starter.page_of": "{title} · page {page} of {pages}",
    "starter.alt.questions": "Starter questions: {text}",
    "starter.alt.answers": "Starter answers: {text}",
    "starter.none_to_count": "There is no starter whose counts I do not have. Type starter for one.",
    "starter.counts_unreadable": (
        "I could not read that. Please write the counts and how many were there, as in: 18 22 9 of 26"
    ),
    "starter.counts_number": (
        "That is {found} counts for {questions} questions. Please write one count for each question."
    ),
    "starter.counts_present": "{present} is no number of students that a class can have.",
    "starter.counts_more": "{count} right answers of {present} students cannot be. Please check the numbers.",
}
