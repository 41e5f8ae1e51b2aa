"""``holdfast simulate``."""

from __future__ import annotations

import csv
import sys
from collections.abc import Collection, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from bot.evidence.illustration.simulation_picture import SimulationRow
    from scheduler.simulation.evaluation import Row

MEASURES = {
    "tests": "Known at quizzes and exam",
    "below_half": "Pairs below one half at a quiz",
    "term_average": "Known on average over the term",
}


def _words(_context: click.Context, _option: click.Parameter, value: str | None) -> list[str]:
    return [word.strip() for word in (value or "").split(",") if word.strip()]


@click.command()
@click.option(
    "--families", callback=_words, metavar="A,B", help="Memory laws of the simulated students. Default: all."
)
@click.option("--policies", callback=_words, metavar="A,B", help="Policies to compare. Default: all.")
@click.option(
    "--classes", type=click.IntRange(1, 1000), default=2, show_default=True, help="Classes per memory law."
)
@click.option(
    "--students", type=click.IntRange(2, 200), default=30, show_default=True, help="Students in a class."
)
@click.option(
    "--prompts", callback=_words, default="2", show_default=True, metavar="1,2", help="Prompts a day."
)
@click.option("--seed", type=int, default=1, show_default=True, help="Seed of the first class.")
@click.option("--exam-only", is_flag=True, help="A term without quizzes: only the exam after it.")
@click.option(
    "--out",
    type=click.Path(path_type=Path, file_okay=False),
    help="Folder for the table, the rows as CSV and the picture. Default: only the table, here.",
)
def simulate(
    families: list[str],
    policies: list[str],
    classes: int,
    students: int,
    prompts: list[str],
    seed: int,
    exam_only: bool,
    out: Path | None,
) -> None:
    """Compare review policies on simulated classes: same classes, same number of prompts.

    Example: holdfast simulate --policies fixed,personal,oracle --classes 3 --out simulation

    The students forget by laws that the personal policy is not told. "fixed" is the best of eleven fixed lists of
    gaps, chosen in hindsight for each class; "oracle" sees everybody's true memory.
    """
    from scheduler.simulation.evaluation import evaluate, example_term, format_table
    from scheduler.simulation.learners import FAMILIES
    from scheduler.simulation.policies import POLICIES

    chosen = _known("--families", families, FAMILIES), _known("--policies", policies, POLICIES)
    with click.progressbar(length=1, label="Simulating", file=sys.stderr) as bar:

        def progress(done: int, total: int) -> None:
            bar.length = total
            bar.update(done - bar.pos)

        rows = evaluate(
            families=chosen[0],
            policies=chosen[1],
            seeds=range(seed, seed + classes),
            prompts_per_day=_numbers(prompts),
            n_students=students,
            term=example_term(quizzes=not exam_only),
            progress=progress,
        )
    table = format_table(rows)
    click.echo(table)
    if out is not None:
        _save(rows, table, out)


def _known(option: str, wanted: list[str], there: Collection[str]) -> list[str]:
    unknown = [word for word in wanted if word not in there]
    if unknown:
        raise click.BadParameter(f"{', '.join(unknown)}: choose from {', '.join(there)}.", param_hint=option)
    return wanted or list(there)


def _numbers(words: list[str]) -> list[int]:
    numbers = [int(word) for word in words if word.isdigit() and 1 <= int(word) <= 10]
    if len(numbers) != len(words) or not numbers:
        raise click.BadParameter("write numbers from 1 to 10, such as 1,2,3.", param_hint="--prompts")
    return numbers


def _save(rows: Sequence[Row], table: str, out: Path) -> None:
    from bot.evidence.illustration.simulation_picture import simulation_picture
    from bot.evidence.papers import save
    from bot.words import words

    save([simulation_picture(_compared(rows), words("en"))], out)
    (out / "simulation.txt").write_text(f"{table}\n", encoding="utf-8")
    with (out / "simulation.csv").open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, list(_fields(rows[0])))
        writer.writeheader()
        writer.writerows(_fields(row) for row in rows)
    click.echo(f"Written into {out.resolve()}", err=True)


def _fields(row: Row) -> dict[str, object]:
    from dataclasses import asdict

    return {**asdict(row), "gaps": " ".join(f"{gap:g}" for gap in row.gaps)}


def _compared(rows: Sequence[Row]) -> list[SimulationRow]:
    """Return each measure under each policy, compared within the classes that all policies were run on."""
    from math import isnan

    from bot.evidence.illustration.simulation_picture import compared

    found: list[SimulationRow] = []
    for measure, title in MEASURES.items():
        values: dict[str, dict[tuple[str, int, int], float]] = {}
        for row in rows:
            own = values.setdefault(row.policy, {})
            own[row.family, row.seed, row.prompts_per_day] = getattr(row, measure)
        if any(isnan(value) for own in values.values() for value in own.values()):  # no quiz
            continue
        classes = sorted(next(iter(values.values())))
        found += compared(title, {policy: [own[one] for one in classes] for policy, own in values.items()})
    return found
