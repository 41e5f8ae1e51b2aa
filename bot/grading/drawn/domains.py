"""What is drawn: ranges, lists, values that follow from others, and conditions.

One text, parts parted by ";" or a new line, in English or German words::

    s = 20..120 step 10          whole steps between two formulas; "except 0" leaves values out
    t in 4, 5, 8, 10             a list of numbers (fractions such as 3/4 too)
    who in Ada, Ben              a list of words
    who, her in (Ada, her), (Ben, his)      several names drawn together: cases, genders, Pythagorean triples
    d = s/t                      a value that follows from those before it
    where s/t < 20 and d is whole
"""

from __future__ import annotations

import random
import re
import unicodedata
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from fractions import Fraction

from bot.grading.drawn import conditions, exact, expressions
from bot.grading.drawn.conditions import Condition
from bot.grading.drawn.errors import BadDraw, Undefined, Unread, quoted
from bot.grading.drawn.exact import Value
from bot.grading.drawn.expressions import CONSTANTS, Expression
from bot.grading.formulatokens import FUNCTIONS, SAME_LETTER
from bot.grading.signs import one_minus

MAX_CHARS = 2000
MAX_NAMES = 16
MAX_ITEMS = 80
MAX_COUNT = 10_000
MAX_WORD_CHARS = 80
MAX_NODES = 300
"""Numbers, names and signs of all formulas together: what one try may cost, for hundreds are made."""
RESERVED = frozenset({"answer", "wrong", "and", "und", "in", "is", "ist", "where", "wobei", *CONSTANTS, "pi"})

_NAME = r"[^\W\d_][^\W_]{0,15}"
_WHERE = re.compile(r"(?:^|\s)(?:where|wobei)\s")
_IN = re.compile(rf"^({_NAME}(?: ?, ?{_NAME})*) (?:in|aus|∈) (.+)$")
_IS = re.compile(rf"^({_NAME}) ?= ?(.+)$")
_STEP = re.compile(r"\s(?:step|Schritt|Schrittweite)\s")
_EXCEPT = re.compile(r"\s(?:except|ohne|außer)\s")
_STORED = re.compile(r"-?\d{1,80}(?:/\d{1,80})?")
_NUMBER = re.compile(r"^[+-]?\d{1,15}(?:[.,]\d{1,15})?$|^[+-]?\d{1,9} ?/ ?[1-9]\d{0,8}$")

Item = Fraction | str
Stored = str | int


@dataclass(frozen=True, slots=True)
class Range:
    """Steps from a lower to an upper bound, some left out."""

    name: str
    low: Expression
    high: Expression
    step: Expression | None = None
    excluded: tuple[Fraction, ...] = ()


@dataclass(frozen=True, slots=True)
class Listed:
    """Rows of numbers and words, one drawn; every name takes its column."""

    names: tuple[str, ...]
    rows: tuple[tuple[Item, ...], ...]


@dataclass(frozen=True, slots=True)
class Derived:
    """A value that follows from those before it."""

    name: str
    formula: Expression


@dataclass(frozen=True, slots=True)
class Domains:
    """Everything that is drawn, in the order written."""

    sources: tuple[Range | Listed | Derived, ...] = ()
    conditions: tuple[Condition, ...] = ()
    names: frozenset[str] = field(default_factory=frozenset)
    words: frozenset[str] = field(default_factory=frozenset)

    @property
    def numbers(self) -> frozenset[str]:
        """Names that stand for a number in every draw."""
        return self.names - self.words


# --- reading ----------------------------------------------------------------------------------------------


def read(text: str) -> Domains:
    """Read what is drawn.

    Raises
    ------
    Unread
        With the part that cannot be read.
    """
    if len(text) > MAX_CHARS:
        raise Unread("too_big", found=quoted(text))
    reader = _DomainReader()
    text = unicodedata.normalize("NFKC", text.replace("²", "^2").replace("³", "^3")).translate(SAME_LETTER)
    for part in _parted(text, ";\n"):
        clause, *wheres = _WHERE.split(" ".join(part.split()))
        if clause:
            reader.clause(clause)
        for where in wheres:
            reader.wheres.append(where)
    names = frozenset(reader.names)
    numbers = names - reader.words
    read_conditions = tuple(c for where in reader.wheres for c in conditions.read(where, numbers))
    if sum(formula.size for formula in _formulas(reader.sources, read_conditions)) > MAX_NODES:
        raise Unread("too_big", found=quoted(text))
    return Domains(tuple(reader.sources), read_conditions, names, frozenset(reader.words))


def _formulas(
    sources: Iterable[Range | Listed | Derived], read_conditions: Iterable[Condition]
) -> Iterator[Expression]:
    for source in sources:
        if isinstance(source, Range):
            yield from (bound for bound in (source.low, source.high, source.step) if bound)
        elif isinstance(source, Derived):
            yield source.formula
    for condition in read_conditions:
        yield from conditions.formulas_of(condition)


def uses(domains: Domains) -> frozenset[str]:
    """Names that bounds, values that follow, or conditions use."""
    return frozenset(n for formula in _formulas(domains.sources, domains.conditions) for n in formula.names)


class _DomainReader:
    def __init__(self) -> None:
        self.sources: list[Range | Listed | Derived] = []
        self.names: list[str] = []
        self.words: set[str] = set()
        self.wheres: list[str] = []

    def clause(self, text: str) -> None:
        if match := _IN.match(text):
            names = tuple(name.strip() for name in match[1].split(","))
            self.add(self.listed(names, match[2]), names)
        elif match := _IS.match(text):
            name, body = match.groups()
            self.add(self.range(name, body) if ".." in body else Derived(name, self.formula(body)), (name,))
        else:
            raise Unread("values_unread", found=quoted(text))

    def add(self, source: Range | Listed | Derived, names: tuple[str, ...]) -> None:
        for name in names:
            _check_name(name)
            if name in self.names:
                raise Unread("name_twice", name=name)
            self.names.append(name)
        if len(self.names) > MAX_NAMES:
            raise Unread("too_many_names", most=MAX_NAMES)
        self.sources.append(source)

    def formula(self, text: str) -> Expression:
        return expressions.read(text, set(self.names) - self.words)

    def range(self, name: str, text: str) -> Range:
        text, *left_out = _EXCEPT.split(text, maxsplit=1)
        text, *step = _STEP.split(text, maxsplit=1)
        low, _, high = text.partition("..")
        parts = _parted(left_out[0], ",") if left_out else []
        excluded = tuple(_number_item(part) for part in parts if part.strip())
        return Range(
            name, self.formula(low), self.formula(high), self.formula(step[0]) if step else None, excluded
        )

    def listed(self, names: tuple[str, ...], text: str) -> Listed:
        parts = [part.strip() for part in _parted(text, ",") if part.strip()]
        if not 1 <= len(parts) <= MAX_ITEMS:
            raise Unread("too_many_items", most=MAX_ITEMS)
        rows = tuple(_row(part, len(names)) for part in parts)
        columns = []
        for name, column in zip(names, zip(*rows, strict=True), strict=True):
            # A column that is not all numbers is words: "10A" and "7" are classes.
            is_number = all(_NUMBER.match(one_minus(item)) for item in column)
            if not is_number:
                self.words.add(name)
            columns.append([_number_item(item) if is_number else _word(item) for item in column])
        return Listed(names, tuple(zip(*columns, strict=True)))


def _check_name(name: str) -> None:
    hides = any(word.startswith(name) for word in (*FUNCTIONS, *exact.SEVERAL)) and len(name) > 1
    if name in RESERVED or "ƒ" in name or hides or len(name) > 16:
        raise Unread("name_taken", name=quoted(name))


def _row(text: str, width: int) -> tuple[str, ...]:
    if width == 1:
        return (text,)
    if not (text.startswith("(") and text.endswith(")")):
        raise Unread("row_brackets", found=quoted(text), n=width)
    cells = tuple(cell.strip() for cell in _parted(text[1:-1], ","))
    if len(cells) != width:
        raise Unread("row_width", found=quoted(text), n=width, found_n=len(cells))
    return cells


def _number_item(text: str) -> Fraction:
    written = one_minus(text.strip())
    if not _NUMBER.match(written):
        raise Unread("list_number", found=quoted(text))
    return Fraction(written.replace(",", ".").replace(" ", ""))


def _word(text: str) -> str:
    if re.fullmatch(r"[\d., ]+", text):
        # "4,5,8" in a list of numbers: commas of a list or of decimals?
        raise Unread("list_comma", found=quoted(text))
    word = text[1:-1] if len(text) > 1 and text[0] + text[-1] in ('""', "“”", "„“", "''") else text
    if len(word) > MAX_WORD_CHARS or "{" in word or "}" in word:
        raise Unread("word_unfit", found=quoted(word), most=MAX_WORD_CHARS)
    return word


def _parted(text: str, separators: str) -> list[str]:
    """Part a text at separators outside brackets and quotation marks; a comma between digits is a decimal comma."""
    parts, start, depth, quote = [], 0, 0, ""
    for place, sign in enumerate(text):
        if quote:
            quote = "" if sign in quote else quote
        elif sign in '"“„':
            quote = {'"': '"', "“": "”", "„": "“”"}[sign]
        else:
            depth += {"(": 1, ")": -1}.get(sign, 0)
            decimal = (
                sign == "," and text[place - 1 : place].isdigit() and text[place + 1 : place + 2].isdigit()
            )
            if depth <= 0 and sign in separators and not decimal:
                parts.append(text[start:place])
                start = place + 1
    return [*parts, text[start:]]


# --- drawing ----------------------------------------------------------------------------------------------


def pick(domains: Domains, rng: random.Random) -> dict[str, Stored]:
    """Draw every value once, conditions aside.

    Returns
    -------
    dict
        Numbers as text ("20", "3/4"), words as the row of their list, so that a draw fits every language.

    Raises
    ------
    Undefined
        When a range is empty, too long or has no bounds.
    """
    stored: dict[str, Stored] = {}
    values: dict[str, Value | str] = {}
    for source in domains.sources:
        if isinstance(source, Listed):
            row = _below(rng, len(source.rows))
            for name, item in zip(source.names, source.rows[row], strict=True):
                stored[name] = row if name in domains.words else str(item)
                values[name] = item
        elif isinstance(source, Range):
            number = _from_range(source, values, rng)
            stored[source.name], values[source.name] = str(number), number
        else:
            values[source.name] = expressions.evaluate(source.formula, values)
    return stored


def _below(rng: random.Random, count: int) -> int:
    # random() is the same in every version of Python; randrange is not promised to be.
    return int(rng.random() * count)


def _from_range(source: Range, values: Mapping[str, Value | str], rng: random.Random) -> Fraction:
    bounds = [source.low, source.high, *([source.step] if source.step else [])]
    numbers = [expressions.evaluate(bound, values) for bound in bounds]
    low, high, step = (as_fraction(n) for n in (*numbers, Fraction(1))[:3])
    if step <= 0 or high < low:
        raise Undefined("range_empty", name=source.name)
    count = int((high - low) / step) + 1
    if count > MAX_COUNT:
        raise Undefined("range_long", name=source.name, most=MAX_COUNT)
    left_out = {round((value - low) / step) for value in source.excluded if _on_step(value, low, step, count)}
    if len(left_out) >= count:
        raise Undefined("range_empty", name=source.name)
    place = _below(rng, count - len(left_out))
    for gap in sorted(left_out):
        place += gap <= place
    return low + place * step


def _on_step(value: Fraction, low: Fraction, step: Fraction, count: int) -> bool:
    place = (value - low) / step
    return place.denominator == 1 and 0 <= place < count


def as_fraction(value: Value) -> Fraction:
    """Return a value as a fraction, a float to 12 figures."""
    return value if isinstance(value, Fraction) else Fraction(f"{value:.12g}")


def resolve(domains: Domains, stored: Mapping[str, Stored]) -> dict[str, Value | str]:
    """Return the values of a stored draw, those that follow from others included.

    Raises
    ------
    BadDraw
        When a name is missing or a row is not in its list.
    Undefined
        When a value that follows has none.
    """
    values: dict[str, Value | str] = {}
    for source in domains.sources:
        if isinstance(source, Derived):
            values[source.name] = expressions.evaluate(source.formula, values)
            continue
        names = source.names if isinstance(source, Listed) else (source.name,)
        for column, name in enumerate(names):
            words = source.rows if isinstance(source, Listed) and name in domains.words else None
            values[name] = _restored(name, stored.get(name), words, column)
    return values


def _restored(
    name: str, stored: Stored | None, rows: tuple[tuple[Item, ...], ...] | None, column: int
) -> Value | str:
    if rows is not None:
        if isinstance(stored, bool) or not isinstance(stored, int) or not 0 <= stored < len(rows):
            raise BadDraw(f"The draw has no word for {name}: {stored!r:.40}. Draw the question anew.")
        return rows[stored][column]
    if not isinstance(stored, str) or not _STORED.fullmatch(stored):
        raise BadDraw(f"The draw has no number for {name}: {stored!r:.40}. Draw the question anew.")
    try:
        return exact.bounded(Fraction(stored))
    except ZeroDivisionError:
        raise BadDraw(f"The draw has no number for {name}: {stored!r:.40}. Draw the question anew.") from None


def accepts(domains: Domains, values: Mapping[str, Value | str]) -> bool:
    """Whether a draw fulfils every condition; one without a value for these values does not hold."""
    try:
        return all(conditions.holds(condition, values) for condition in domains.conditions)
    except Undefined:
        return False
