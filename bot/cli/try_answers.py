"""``holdfast try``: a question sheet graded on typed answers, before students meet it. Needs no database."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from bot.cli.importing import choices_of
from bot.cli.option_types import json_option
from bot.cli.outcome import PROBLEMS, CommandFailed

if TYPE_CHECKING:
    from bot.grading.keys import AnswerKey
    from bot.grading.verdict import GradingResult
    from storage.files.values import QuestionRow, TypedAnswer

PROBLEMS_SHOWN = 20


@dataclass(frozen=True)
class Triable:
    """A question with its key; `others` are the answers to the other questions of its topic."""

    row: QuestionRow
    key: AnswerKey
    others: tuple[str, ...] = ()

    @property
    def order(self) -> tuple[int, ...]:
        """The options of the key (0 is the right one) in the order of the file; empty for other kinds."""
        if not self.row.wrong_options:
            return ()
        order = list(range(1, len(self.row.wrong_options) + 1))
        order.insert(self.row.right_place, 0)
        return tuple(order)

    def grade(self, answer: str) -> GradingResult:
        """Grade an answer as the chat would."""
        from bot.grading.grade import grade

        return grade(self.key, answer, order=self.order, question=self.row.prompt, others=self.others)


@dataclass(frozen=True)
class Tried:
    """An answer with its verdict and the reason for it in a few words."""

    row: int
    question: str
    answer: str
    verdict: str
    reason: str

    def as_data(self) -> dict[str, str]:
        """Return it as plain values for JSON. That form is read by programs outside and does not change."""
        return {
            "question": self.question,
            "answer": self.answer,
            "verdict": self.verdict,
            "reason": self.reason,
        }


@click.command("try")
@click.argument("questions", type=click.Path(path_type=Path, exists=True, dir_okay=False))
@click.argument("answers", type=click.Path(path_type=Path, exists=True, dir_okay=False))
@click.option(
    "--choose",
    "chosen",
    multiple=True,
    metavar="WHAT=HOW",
    callback=choices_of,
    help="Settle what is doubtful in a file, as the problem says. Can be repeated.",
)
@json_option("Print one JSON object a line for programs: question, answer, verdict, reason.")
def try_(questions: Path, answers: Path, chosen: dict[str, str], as_json: bool) -> None:
    """Grade typed answers with a question sheet, as the chat would, before students meet it.

    Example: holdfast try questions.xlsx typed.csv

    QUESTIONS is a sheet as for: holdfast import questions. ANSWERS has the columns question and answer, and topic
    where two topics ask the same. A letter means the option at that place in the sheet; a sheet that lists answer
    and wrong options has the answer first. Exit code 3: rows of a file could not be used; the others are graded.
    """
    from storage.files.questions import read_questions
    from storage.files.typed_answers import read_typed_answers

    sheet = read_questions(questions.read_bytes(), questions.name, choices=chosen)
    typed = read_typed_answers(answers.read_bytes(), answers.name, choices=chosen)
    problems = [*_said(questions.name, sheet.problems), *_said(answers.name, typed.problems)]
    lost = bool(sheet.faults or sheet.questions or typed.faults or typed.questions)
    triable, unusable = _triable(sheet.value.questions)
    tried, unmatched = _tried(typed.value.answers, triable)
    problems += [f"{questions.name}: {one}" for one in unusable]
    problems += [f"{answers.name}: {one}" for one in unmatched]
    for one in problems[:PROBLEMS_SHOWN]:
        click.echo(one, err=True)
    if len(problems) > PROBLEMS_SHOWN:
        click.echo(f"and {len(problems) - PROBLEMS_SHOWN} more problems.", err=True)
    for line in _lines(tried, as_json=as_json):
        click.echo(line)
    if lost or unusable or unmatched:
        raise CommandFailed("Not every row could be used: see above. The others were graded.", PROBLEMS)


def _said(name: str, problems: Iterable[Any]) -> Iterator[str]:
    from bot.words import words
    from bot.words.problems import label, sentence

    said = words("en")
    for one in problems:
        yield f"{name}: {sentence(one, said)}"
        for option in one.options:
            yield f"Decide: --choose {option.about}={option.chosen}  ({label(option, said)})"


def _triable(rows: Sequence[QuestionRow]) -> tuple[dict[str, list[Triable]], list[str]]:
    """Return the questions that can be graded by their folded text, and a sentence for each that cannot."""
    from bot.grading.keys import all_shown
    from bot.grading.kinds import recipe_of
    from bot.grading.upload import KeyRefused, key_from_row
    from bot.words import words
    from bot.words.problems import key_sentence
    from storage.files.folding import fold

    good: list[tuple[QuestionRow, AnswerKey]] = []
    unusable: list[str] = []
    for row in rows:
        if row.drawn is not None:
            unusable.append(
                f"Row {row.row}: the question has drawn values, and each student gets others. "
                "Try it in the chat, where it stands with its values."
            )
            continue
        try:
            good.append((row, key_from_row(row)))
        except KeyRefused as refused:
            unusable += [key_sentence(row.row, one, words("en")) for one in refused.problems]
    found: dict[str, list[Triable]] = {}
    for row, key in good:
        others = [
            shown
            for other, its_key in good
            if other is not row and fold(other.topic) == fold(row.topic)
            if recipe_of(key).needs_others and recipe_of(its_key).needs_others
            for shown in all_shown(its_key)
        ]
        found.setdefault(fold(row.prompt), []).append(Triable(row, key, tuple(others)))
    return found, unusable


def _tried(
    answers: Sequence[TypedAnswer], triable: Mapping[str, Sequence[Triable]]
) -> tuple[list[Tried], list[str]]:
    """Grade every answer whose question is known; return a sentence for each of the others."""
    from storage.files.folding import fold
    from storage.files.headings import closest

    tried: list[Tried] = []
    unmatched: list[str] = []
    for one in answers:
        fitting = triable.get(fold(one.question), ())
        if one.topic:
            fitting = [question for question in fitting if fold(question.row.topic) == fold(one.topic)]
        if len(fitting) == 1:
            result = fitting[0].grade(one.answer)
            tried.append(Tried(one.row, one.question, one.answer, result.outcome.value, reason(result)))
        elif fitting:
            topics = ", ".join(question.row.topic for question in fitting)
            unmatched.append(
                f'Row {one.row}: "{one.question}" is asked in several topics ({topics}). '
                "Name one in a column topic."
            )
        else:
            near = closest(fold(one.question), list(triable))
            hint = f' Did you mean "{triable[near][0].row.prompt}"?' if near else ""
            unmatched.append(f'Row {one.row}: the sheet has no question "{one.question}".{hint}')
    return tried, unmatched


def reason(result: GradingResult) -> str:
    """Say in a few words why an answer got its verdict.

    Examples
    --------
    >>> from bot.grading.grade import grade
    >>> from bot.grading.upload import key_from
    >>> reason(grade(key_from("number", "2.7 g/cm3"), "2.7"))
    'the unit is missing'
    """
    from bot.grading.verdict import Detail

    said = {
        Detail.EMPTY: "nothing was typed",
        Detail.TOO_LONG: "too long to be an answer",
        Detail.NOT_AN_OPTION: "none of the options",
        Detail.AMBIGUOUS_OPTION: "can mean more than one option",
        Detail.NOT_A_NUMBER: "no number could be read",
        Detail.UNKNOWN_UNIT: "the unit is not known",
        Detail.UNIT_MISSING: "the unit is missing",
        Detail.NOT_A_FORMULA: "no formula could be read",
        Detail.OTHER_SUBJECT: "a formula for another quantity",
        Detail.WRONG_DIMENSION: "a unit of another quantity",
        Detail.TYPO: "a slip of spelling, forgiven",
        Detail.UNIT_NOT_ASKED: "right; its unit was not asked for",
        None: {
            "right": "the same as the key",
            "wrong": "not the same as the key",
            "unreadable": "could not be read",
        }[result.outcome.value],
    }[result.detail]
    return f"{said}; read as {result.read_as}" if result.read_as else said


def _lines(tried: Sequence[Tried], *, as_json: bool) -> Iterator[str]:
    if as_json:
        for one in tried:
            yield json.dumps(one.as_data(), ensure_ascii=False)
        return
    for one in tried:
        yield f"row {one.row}: {one.verdict:<10} {one.answer!r} to {one.question!r}: {one.reason}"
    counts = ", ".join(
        f"{sum(one.verdict == verdict for one in tried)} {verdict}"
        for verdict in ("right", "wrong", "unreadable")
    )
    yield f"{len(tried)} answers: {counts}"
