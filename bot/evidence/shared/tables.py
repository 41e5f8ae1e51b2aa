"""Tables of values: what workbook and CSV are written from, so that both say the same."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Literal

from bot.evidence.shared.figures import IntervalEstimate, Proportion
from bot.words import Words

Kind = Literal["text", "count", "number", "share", "date", "moment", "hours"]
Value = str | int | float | date | datetime | None


@dataclass(frozen=True)
class Column:
    """A column: its heading is the text ``column.KEY``, its note the text ``column.KEY.note``.

    Attributes
    ----------
    kind : str
        ``share`` is a number of 0..1 shown in percent; ``moment`` is on the class's own clock.
    low_below : float or None
        Values under this stand out in the workbook.
    name : str
        A heading that is no text of ours, such as a topic; `key` then only gives the note.

    bound : str
        ``low`` or ``high`` for a bound of an interval: its texts are ``column.low`` and ``column.high``.
    """

    key: str
    kind: Kind = "text"
    width: float = 10.0
    low_below: float | None = None
    name: str = ""
    bound: Literal["", "low", "high"] = ""

    def heading(self, words: Words) -> str:
        """Return the heading in words."""
        return self.name or words.text(f"column.{self.bound or self.key}")

    def note(self, words: Words) -> str:
        """Return what the column means."""
        return words.text(f"column.{self.bound or self.key}.note")


@dataclass(frozen=True)
class Table:
    """A table: its title is the text ``table.KEY``; every row has one value per column."""

    key: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[Value, ...], ...]
    frozen_columns: int = 1

    def __post_init__(self) -> None:
        for row in self.rows:
            if len(row) != len(self.columns):
                raise ValueError(
                    f'A row of table "{self.key}" has {len(row)} values for {len(self.columns)} columns.'
                )

    def title(self, words: Words) -> str:
        """Return the title in words."""
        return words.text(f"table.{self.key}")


def estimate_cells(estimate: IntervalEstimate | None) -> tuple[Value, Value, Value]:
    """Return value and bounds of an estimate; empty where there is none."""
    return (None, None, None) if estimate is None else (estimate.mean, estimate.low, estimate.high)


def share_cells(share: Proportion) -> tuple[Value, Value, Value]:
    """Return a share and its bounds; empty where the answers are too few for a percentage."""
    return estimate_cells(share.estimate)


def estimate_columns(key: str) -> tuple[Column, Column, Column]:
    """Return the columns that `estimate_cells` fills."""
    return (
        Column(key, "share", 11, low_below=0.5),
        *_bounds(key),
    )


def share_columns(key: str) -> tuple[Column, Column, Column]:
    """Return the columns that `share_cells` fills."""
    return Column(key, "share", 9), *_bounds(key)


def _bounds(key: str) -> tuple[Column, Column]:
    return Column(f"{key}_low", "share", 7, bound="low"), Column(f"{key}_high", "share", 7, bound="high")


def csv_rows(table: Table, words: Words) -> Iterable[Sequence[Value]]:
    """Return heading and rows for a CSV file: dates in ISO form, shares as numbers of 0..1."""
    yield [column.heading(words) for column in table.columns]
    for row in table.rows:
        yield [_csv_value(value) for value in row]


def _csv_value(value: Value) -> Value:
    if isinstance(value, date | datetime):
        return value.isoformat()
    return round(value, 4) if isinstance(value, float) else value
