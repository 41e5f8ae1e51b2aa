"""``holdfast evaluate``: any record of answers with times, predicted by our model and by plain methods beside it."""

from __future__ import annotations

import csv
import sys
from collections.abc import Mapping, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, TextIO

import click

from bot.cli.outcome import PROBLEMS, CommandFailed

if TYPE_CHECKING:
    from scheduler.records.log import AnswerLog, LogBuilder
    from scheduler.values import Floats

DAY_S = 86_400.0
LATEST_S = 7_258_118_400.0
"""The year 2200: what lies beyond is in milliseconds, or no moment."""
PROBLEMS_SHOWN = 20
COLUMNS: Mapping[str, tuple[str, ...]] = {
    "learner": ("learner", "student", "user", "person"),
    "topic": ("topic", "skill"),
    "item": ("item", "question", "question_id"),
    "when": ("when", "time", "at", "timestamp", "answered_at"),
    "right": ("right", "correct", "verdict"),
    "kind": ("exposure",),
    "chance": ("chance",),
    "weight": ("weight",),
}
RIGHT = {
    "1": 1.0,
    "1.0": 1.0,
    "true": 1.0,
    "yes": 1.0,
    "right": 1.0,
    "0": 0.0,
    "0.0": 0.0,
    "false": 0.0,
    "no": 0.0,
}
WRONG = {"wrong": 0.0, "unsure": 0.0, "empty": 0.0}
NO_ANSWER = {"lesson", "taught", "study", "reading", "exposure", "homework"}


@click.command()
@click.argument("answers", type=click.Path(path_type=Path, exists=True, dir_okay=False))
@click.option(
    "--held-out", is_flag=True, help="Fit to other learners only. Default: to all that came before."
)
@click.option(
    "--out",
    type=click.Path(path_type=Path, file_okay=False),
    help="Folder for the table, every prediction as CSV and the picture. Default: only the table, here.",
)
def evaluate(answers: Path, held_out: bool, out: Path | None) -> None:
    """Predict a record of answers one by one, by the model of this program and by plain methods beside it.

    Example: holdfast evaluate answers.csv --out evaluation

    ANSWERS is a CSV file with the columns learner, topic or item (or both), when (ISO 8601, or seconds since 1970)
    and right (1 or 0); further ones may be exposure (lesson, homework …: then there is no answer), chance (probability
    of a right answer by guessing) and weight. The answers of a class are such a file: holdfast export --records.

    Every answer after the first of a learner on a topic is predicted before it is seen. "base rate" is the share
    right so far, "exponential half-life" fits 2^(-time / half-life), "counts and log-lags" is a logistic regression
    (scikit-learn, where it is installed). Intervals of 95 % come from drawing the learners anew. Our model looks at
    thirty learners at a time; it takes some ten milliseconds an answer.
    """
    from scheduler.records.comparison import evaluate_log, format_comparison

    log = read_log(answers)
    label = f"Predicting {len(log)} events"
    with click.progressbar(length=len(log), label=label, file=sys.stderr) as bar:
        try:
            found, predicted, missing = evaluate_log(log, held_out=held_out, progress=bar.update)
        except ValueError as wrong:
            raise CommandFailed(str(wrong), PROBLEMS) from None
    table = format_comparison(found)
    click.echo(table)
    for name in missing:
        click.echo(f'"{name}" was left out: it needs scikit-learn (the extra evaluate).', err=True)
    if out is not None:
        _save(log, predicted, table, out)


def read_log(path: Path) -> AnswerLog:
    """Read a record of answers, row by row; end the command with every row that cannot be read."""
    from scheduler.records.log import LogBuilder

    built, problems = LogBuilder(), list[str]()
    try:
        with path.open(encoding="utf-8-sig", newline="") as file:
            _read_rows(file, path.name, built, problems)
    except UnicodeDecodeError:
        raise CommandFailed(f"{path.name} is no text in UTF-8. Save it as CSV UTF-8.", PROBLEMS) from None
    if problems:
        more = [f"and {len(problems) - PROBLEMS_SHOWN} more."] if len(problems) > PROBLEMS_SHOWN else []
        shown = "\n".join([*problems[:PROBLEMS_SHOWN], *more])
        raise CommandFailed(f"{shown}\nNothing was evaluated: correct the file and run it again.", PROBLEMS)
    log = built.build()
    if not len(log):
        raise CommandFailed(f"{path.name} has no row below its headings.", PROBLEMS)
    return log


def _read_rows(file: TextIO, name: str, built: LogBuilder, problems: list[str]) -> None:
    reader = csv.reader(file)
    columns = _columns(next(reader, []), name)
    for number, row in enumerate(reader, start=2):
        if not any(cell.strip() for cell in row):
            continue
        cells = {field: row[place].strip() for field, place in columns.items() if place < len(row)}
        try:
            _add(built, cells)
        except ValueError as wrong:
            problems.append(f"Row {number}: {wrong}")


def _columns(headings: Sequence[str], name: str) -> dict[str, int]:
    plain = [heading.strip().lower() for heading in headings]
    found = {
        field: plain.index(word)
        for field, words in COLUMNS.items()
        for word in reversed(words)
        if word in plain
    }
    lacking = [field for field in ("learner", "when", "right") if field not in found]
    lacking += [] if {"topic", "item"} & found.keys() else ["topic (or item)"]
    if lacking:
        raise CommandFailed(
            f"{name} has no column {', '.join(lacking)}. Row 1 names the columns: learner, topic, when, right.",
            PROBLEMS,
        )
    return found


def _add(built: LogBuilder, cells: Mapping[str, str]) -> None:
    topic = cells.get("topic") or cells.get("item", "")
    if not cells.get("learner") or not topic:
        raise ValueError("learner and topic (or item) may not be empty.")
    exposed = cells.get("kind", "").lower() in NO_ANSWER
    written = cells.get("right", "").lower()
    if not written and not exposed:
        if not cells.get("when"):
            return  # a question that was never answered, as in our own export
        raise ValueError("right is empty; write 1 or 0, or name an exposure such as lesson.")
    right = float("nan") if exposed else {**RIGHT, **WRONG}.get(written)
    if right is None:
        raise ValueError(f'right is "{cells["right"]}"; write 1 or 0.')
    built.add(
        cells["learner"],
        topic,
        _moment(cells.get("when", "")),
        right,
        item=(cells.get("item") or None) if cells.get("topic") else None,
        chance=_number(cells, "chance", 0.0, below=1.0),
        weight=_number(cells, "weight", 1.0, above=0.0),
    )


def _moment(written: str) -> float:
    """Read a moment as days since 1970; one without a time zone is taken as UTC throughout."""
    try:
        seconds = float(written)
    except ValueError:
        seconds = float("nan")
    if 0.0 <= seconds <= LATEST_S:
        return seconds / DAY_S
    try:
        read = datetime.fromisoformat(written)
    except ValueError:
        raise ValueError(f'when is "{written}"; write 2026-11-30T18:05:00Z, or seconds since 1970.') from None
    return (read if read.tzinfo else read.replace(tzinfo=UTC)).timestamp() / DAY_S


def _number(
    cells: Mapping[str, str], name: str, default: float, *, below: float = float("inf"), above: float = -1.0
) -> float:
    written = cells.get(name, "")
    try:
        value = float(written) if written else default
    except ValueError:
        raise ValueError(f'{name} is "{written}", which is no number.') from None
    if not above < value < below or (name == "chance" and value < 0.0):
        limits = "from 0 to below 1" if name == "chance" else "above 0"
        raise ValueError(f"{name} is {written}; it has to be {limits}.")
    return value


def _save(log: AnswerLog, predicted: Mapping[str, Floats], table: str, out: Path) -> None:
    import numpy as np

    from bot.evidence.illustration.calibration_picture import calibration_picture
    from bot.evidence.papers import save
    from bot.words import words
    from scheduler.statistics.calibration import reliability

    ours = predicted["holdfast"]
    events = np.flatnonzero(np.isfinite(ours) & np.isfinite(log.right))
    save([calibration_picture(reliability(log.right[events], ours[events]), words("en"))], out)
    (out / "evaluation.txt").write_text(f"{table}\n", encoding="utf-8")
    with (out / "predictions.csv").open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file)
        writer.writerow(["learner", "topic", "when", "right", *predicted])
        for event in events:
            at = datetime.fromtimestamp(log.at[event] * DAY_S, UTC).isoformat(timespec="seconds")
            who, what = log.learners[log.learner[event]], log.topics[log.topic[event]]
            figures = [f"{one[event]:.4f}" for one in predicted.values()]
            writer.writerow([who, what, at, int(log.right[event]), *figures])
    click.echo(f"Written into {out.resolve()}", err=True)
