"""Tables of PDF pages, as they are drawn: with lines, or with columns that stand below each other.

Imported only by the limited child process. A page that is a picture of text is said to be one.
"""

from __future__ import annotations

import io
import re
from operator import itemgetter
from typing import Any

from storage.files.problem import Phrase, problem
from storage.files.reading import limits
from storage.files.reading.columns import Piece, in_columns
from storage.files.reading.found_tables import FoundTable, one_sheet
from storage.files.reading.raised import Place, placed
from storage.files.reading.sheet import Cell, FileRefused, Sheet, text_cell

_HYPHEN = re.compile(r"(?<=[^\W\d_])-\n(?=[^\W\d_A-ZÄÖÜ])(?!(?:und|oder|and|or|bzw)\b)")
BLANK = 0.7  # of the size of the letters: a wider gap parts columns (common practice, no source)


def read_pages(data: bytes, name: str) -> Sheet:
    """Read the tables of PDF pages, else their lines.

    Parameters
    ----------
    data : bytes
        The file.
    name : str
        Its name, for messages only.

    Raises
    ------
    FileRefused
        If it is locked, damaged, a picture of text, or passes a limit.
    """
    try:
        import pdfplumber
        from pdfplumber.utils.exceptions import PdfminerException
    except ImportError:  # an extra of the installation
        raise FileRefused(problem("file_kind", name=name, kind=Phrase("kind.pdf"))) from None
    tables: list[FoundTable] = []
    rows: list[list[Piece]] = []
    letters = 0
    try:
        with pdfplumber.open(io.BytesIO(data)) as pages:
            if len(pages.pages) > limits.PAGES:
                raise FileRefused(problem("pages_many", name=name, size=len(pages.pages), limit=limits.PAGES))
            for page in pages.pages:
                letters += len(page.chars)
                _write_raised(page.chars)
                drawn_here = page.extract_tables()
                for place, drawn in enumerate(drawn_here):
                    tables.append(
                        FoundTable(
                            [[_cell(cell) for cell in row] for row in drawn],
                            place == 0 and page.page_number > 1,
                        )
                    )
                if not drawn_here:
                    rows += _rows(page)
                page.close()
    except PdfminerException as error:
        locked = "Password" in repr(error)
        code = (
            problem("file_locked", name=name)
            if locked
            else problem("file_broken", name=name, kind=Phrase("kind.pdf"))
        )
        raise FileRefused(code) from None
    if not letters:
        raise FileRefused(problem("file_picture", name=name))
    if not tables:
        tables, rows = [FoundTable([[text_cell(cell) for cell in row] for row in in_columns(rows)])], []
    return one_sheet("pdf", tables, [" ".join(piece.text for piece in row) for row in rows], name)


SMALL = 0.85
"""Letters below this share of the size of those before them may stand raised or lowered."""


def _write_raised(letters: list[dict[str, Any]]) -> None:
    """Write small letters that stand raised or lowered as such, on the line of those before them; changes them."""
    base: dict[str, Any] | None = None
    run: list[dict[str, Any]] = []
    for letter in [*letters, None]:
        if letter is not None and base is not None and (place := _standing(letter, base)):
            if run and _standing(run[-1], base) != place:
                _settle(run, base)
                run = []
            run.append(letter)
            continue
        if base is not None and run:
            _settle(run, base)
        run, base = [], letter if letter is not None and letter["text"].strip() else None


def _standing(letter: dict[str, Any], base: dict[str, Any]) -> Place | None:
    """Tell how a letter stands beside the full-sized one before it; None for on the line, or somewhere else."""
    size = base["size"]
    if letter["size"] > SMALL * size or not letter["text"].strip():
        return None
    if (
        letter["top"] > base["bottom"]
        or letter["bottom"] < base["top"]
        or letter["x0"] - base["x1"] > 6 * size
    ):
        return None
    lifted = (base["bottom"] - letter["bottom"]) / size  # the bottom of what is smaller lies higher by itself
    if lifted > 0.2:
        return "raised"
    return "lowered" if lifted < 0.05 else None


def _settle(run: list[dict[str, Any]], base: dict[str, Any]) -> None:
    place = _standing(run[0], base)
    written = "".join(letter["text"] for letter in run)
    assert place is not None  # noqa: S101 - only such letters are collected
    run[0]["text"] = placed(written, place, base["text"])
    for number, letter in enumerate(run):
        letter["text"] = letter["text"] if number == 0 else ""
        for side in ("top", "bottom", "doctop", "y0", "y1", "size"):
            letter[side] = base[side]


def _rows(page: Any) -> list[list[Piece]]:
    """Cut the lines of a page into pieces, wherever a gap is wider than a blank can be."""
    from pdfplumber.utils.clustering import cluster_objects

    rows: list[list[Piece]] = []
    words = page.extract_words(extra_attrs=["size"], use_text_flow=False)
    for line in cluster_objects(words, itemgetter("top"), tolerance=3):
        pieces: list[Piece] = []
        for word in sorted(line, key=itemgetter("x0")):
            last = pieces[-1] if pieces else None
            if last is not None and word["x0"] - last.right < BLANK * word["size"]:
                pieces[-1] = Piece(f"{last.text} {word['text']}", last.left, word["x1"])
            else:
                pieces.append(Piece(word["text"], word["x0"], word["x1"]))
        rows.append(pieces)
    return rows


def _cell(text: Any) -> Cell:
    """Undo the line breaks that only the width of the column has made."""
    return text_cell(_HYPHEN.sub("", text or "").replace("\n", " "))
