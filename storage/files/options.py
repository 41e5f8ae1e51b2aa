"""Sheets of choice questions: the options in columns A, B, C, D (or in one cell), the key as letter, number or text."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from storage.files.folding import fold
from storage.files.headings import Field, plain_heading
from storage.files.problem import UNDECIDED, Choices, PossibleReading, problem
from storage.files.reading import limits
from storage.files.rows import Entries, SheetRow

_NAMES = (
    "option|choice|answer|answer option|answer choice|antwort|antwortmoglichkeit|antwortoption|auswahl|moglichkeit|"
    "reponse|choix|proposition|opcion|respuesta|opzione|risposta|optie|antwoord|keuze"
)
OPTION = Field(
    "option", (), several=True, pattern=re.compile(rf"(?:(?:{_NAMES})\s?)?(?:[a-h]|[1-8])"), at_least=2
)
OPTIONS = Field(
    "options",
    (
        "options", "answer options", "choices", "answer choices", "possible answers", "antworten",
        "antwortmoglichkeiten", "auswahlmoglichkeiten", "mogliche antworten", "optionen", "choix", "propositions",
        "opciones", "opzioni", "opties",
    ),
)  # fmt: skip

_PLACE = re.compile(rf"\(?(?:(?:{_NAMES})\s?)?(?P<place>[A-Ha-h]|[1-8])\s?[).:]?\)?", re.IGNORECASE)
_LABELLED = re.compile(r"\(?(?P<place>[A-Ha-h]|[1-8])\s?[).:]\)?\s*(?P<text>\S.*)", re.DOTALL)
_SEVERAL = re.compile(r"(?:[A-H]|[1-8])(?:\s*(?:[,;+&/]|and|und|et|y|e|en)\s*(?:[A-H]|[1-8]))+|[A-H]{2,4}")
_CUT = re.compile(r"[|;\n]")
# Columns that stand beside questions and are no options: common practice, no source.
_BESIDE = re.compile(
    r"(?:nr|no|num|number|nummer|id|points?|punkte|pts|marks?|level|niveau|difficulty|schwierigkeit|date|datum|author|"
    r"autor|source|quelle|page|seite|tags?|class|klasse|grade|subject|fach|time|zeit)"
)


@dataclass(frozen=True)
class Offered:
    """The options of one row: texts by their place (0 for A or 1), and which the key can mean.

    Attributes
    ----------
    texts : dict of int to str
        Without empty ones.
    by_place, by_text : int or None
        The option that the key names by letter or number, and the one that it repeats.
    listed : bool
        Whether they stand in one cell, where the answer need not be among them.
    """

    texts: dict[int, str] = field(default_factory=dict)
    by_place: int | None = None
    by_text: int | None = None
    listed: bool = False

    @property
    def two_ways(self) -> bool:
        """Whether the key names one option and repeats another, or may be a number that is none of them."""
        if self.by_place is None or self.by_place == self.by_text:
            return False
        return self.by_text is not None or (
            self.listed and all(_is_number(text) for text in self.texts.values())
        )


def _is_number(text: str) -> bool:
    return re.fullmatch(r"[-+−]?\d+(?:[.,]\d+)?", text) is not None


def offered(entry: SheetRow, key: str) -> Offered | None:
    """Read the options of a row and what its key can mean; None if it has none."""
    texts = _in_columns(entry)
    listed = not texts
    if listed:
        texts = _in_one_cell(entry)
    if not texts:
        return None
    place = _place(key)
    labelled = _LABELLED.fullmatch(key)
    if labelled and (place := _place(labelled["place"])) is not None:
        place = place if fold(texts.get(place, "")) == fold(labelled["text"]) else None
    return Offered(
        texts,
        place if place in texts else None,
        next((at for at, text in texts.items() if fold(text) == fold(key)), None),
        listed,
    )


def _place(written: str) -> int | None:
    found = _PLACE.fullmatch(written.strip())
    return None if found is None else _index(found["place"])


def _index(mark: str) -> int:
    return int(mark) - 1 if mark.isdigit() else ord(mark.lower()) - ord("a")


def _in_columns(entry: SheetRow) -> dict[int, str]:
    """Read the options that have columns of their own, each at the place that its heading names."""
    texts: dict[int, str] = {}
    for column in entry.columns("option"):
        text = entry.text_at(column, "option")
        if text:
            mark = plain_heading(entry.entries.headings.heading(column))[-1:]
            texts[_index(mark)] = text
    return texts


def _in_one_cell(entry: SheetRow) -> dict[int, str]:
    """Cut a cell of options, with or without letters in front of each."""
    written = entry.text("options")
    parts = [part.strip() for part in _CUT.split(written or "") if part.strip()]
    labelled = [_LABELLED.fullmatch(part) for part in parts]
    marks = [_index(one["place"]) for one in labelled if one]
    if len(marks) == len(parts) > 1 and marks == list(range(len(parts))):
        parts = [one["text"].strip() for one in labelled if one]
    return dict(enumerate(parts))


def settle_keys(entries: Entries, choices: Choices = UNDECIDED) -> str | None:
    """Find out whether keys that can mean two options name or repeat them: ``place`` or ``text``, None if unknown.

    The teacher's choice decides, else the other rows: a sheet whose other keys can only be letters or numbers has
    such keys.
    """
    if "keys" in choices:
        return choices["keys"]
    rows = [offered(entry, key) for entry in entries if (key := entry.peek("answer"))]
    found = [one for one in rows if one is not None and not one.two_ways]
    placed = any(one.by_place is not None and one.by_text is None for one in found)
    repeated = any(one.by_text is not None and one.by_place is None for one in found)
    return {(True, False): "place", (False, True): "text"}.get((placed, repeated))


def choose(entry: SheetRow, key: str, settled: str | None) -> tuple[str, list[str], int] | None:
    """Give the right answer, the wrong options and the place of the right one among the options of a row.

    None (and a problem) where the key is not clear.

    Parameters
    ----------
    entry : SheetRow
    key : str
        What stands in the answer column.
    settled : {'place', 'text', None}
        From ``settle_keys``.

    Returns
    -------
    tuple of str, list of str and int, or None
        Without options in the sheet, the key itself, nothing, and 0: the right answer comes first.
    """
    found = offered(entry, key)
    if found is None:
        return key, [], 0
    if len(found.texts) > limits.WRONG_OPTIONS + 1:
        entry.fail(problem("options_many", size=len(found.texts) - 1, limit=limits.WRONG_OPTIONS), "options")
        return None
    if found.two_ways and settled is None:
        _ask(entry, key, found)
        return None
    right = found.by_text if found.by_text is not None else found.by_place
    if found.two_ways:
        right = found.by_place if settled == "place" else found.by_text
    # Options in one cell may be the wrong ones only; then the answer stands apart from them.
    plain = _place(key) is None and not _SEVERAL.fullmatch(key)
    apart = found.listed and (plain or (found.two_ways and settled == "text"))
    if right is None and not apart:
        code = "key_several" if _SEVERAL.fullmatch(key) else "key_unknown"
        entry.fail(problem(code, found=key), "answer")
        return None
    places = sorted(found.texts)
    wrong = [found.texts[place] for place in places if place != right]
    if right is None:
        return key, wrong, 0
    return found.texts[right], wrong, places.index(right)


def _ask(entry: SheetRow, key: str, found: Offered) -> None:
    named = found.texts[found.by_place or 0]
    asked = problem("key_two_ways", found=key, first=named, second=key)
    options = (PossibleReading("keys", "place"), PossibleReading("keys", "text"))
    entry.fail(replace(asked, options=options, rows=(entry.number,)), "answer")


def check_bare_key(entry: SheetRow, key: str, prompt: str, wrong: Sequence[str]) -> None:
    """Refuse a key that is only a letter or small number where the options were not read."""
    if _place(key) is None or len(key) > 2:
        return
    letter = key[:1].isalpha() and key[:1].isupper()
    beside = _unread_beside(entry)
    if beside and (letter or len(beside) > 1) and not wrong:
        entry.fail(problem("key_beside", found=key, columns=", ".join(beside)), "answer")
    elif letter and re.search(r"(?<!\w)[aA]\s?[).:].*(?<!\w)[bB]\s?[).:]", prompt, re.DOTALL):
        entry.fail(problem("key_inside", found=key), "answer")
    elif letter and any(re.search(r"[^\W\d_]{4}", option) for option in wrong):
        entry.fail(problem("key_letter", found=key), "answer")


def _unread_beside(entry: SheetRow) -> list[str]:
    """Name the columns of a row that hold something and are not read."""
    uses = entry.entries.headings.uses
    return [
        f'"{use.heading}" ({use.letter})' if use.heading else use.letter
        for use, cell in zip(uses, entry.cells, strict=False)
        if use.field is None and cell is not None and not _BESIDE.fullmatch(plain_heading(use.heading))
    ]
