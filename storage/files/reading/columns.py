"""Columns that are only seen: pieces of text that stand below each other, on a page or in a typed text."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True)
class Piece:
    """Words that stand together in a line, and from where to where they reach, in any unit."""

    text: str
    left: float
    right: float


def in_columns(rows: Sequence[Sequence[Piece]]) -> list[list[str]]:
    """Put pieces into columns.

    Parameters
    ----------
    rows : sequence of sequence of Piece
        The pieces of each line from left to right.

    Returns
    -------
    list of list of str
        Empty where a line has nothing in a column. What reaches over a gap in one line closes it for all: two columns
        become one then, and nothing is put under a heading that it may not belong to.

    Examples
    --------
    >>> in_columns([[Piece("Date", 0, 4), Piece("Topic", 8, 13)], [Piece("Springs", 8, 15)]])
    [['Date', 'Topic'], ['', 'Springs']]
    """
    spans: list[tuple[float, float]] = []
    for piece in sorted((one for row in rows for one in row), key=lambda one: one.left):
        if spans and piece.left < spans[-1][1]:
            spans[-1] = spans[-1][0], max(spans[-1][1], piece.right)
        else:
            spans.append((piece.left, piece.right))
    built: list[list[str]] = []
    for row in rows:
        cells = [""] * len(spans)
        for piece in row:
            column = next(place for place, (_, right) in enumerate(spans) if piece.left < right)
            cells[column] = f"{cells[column]} {piece.text}".strip()
        built.append(cells)
    return built
