r"""Texts with drawn values in them: questions, options, explanations, steps.

========================  ==========================================================================
``{s}``                   the value of s; ``{Who}`` is the word ``who`` with a capital
``{=s/t}``                the value of a formula; "=" before it becomes "≈" when it had to be rounded
``{s:0.00}``              as wished, see :mod:`bot.grading.drawn.figures`; also ``{=s/t:fraction}``
``{a·}x``                 a factor of what follows: 1x becomes x, −1x becomes −x; also ``{=a+b·}x``
``{(b)}``                 in brackets when it is negative: ``5 − {(b)}`` is "5 − (−3)" and "5 − 3"
``{n|apple|apples}``      the first form for exactly one, the second for every other number
``{answer}``, ``{wrong}``  the right answer, the wrong one that is being explained
========================  ==========================================================================

Signs come out right: ``x + {b}`` with −3 is "x − 3", ``2 · {b}`` is "2 · (−3)", ``{b}²`` is "(−3)²", ``3^{n}``
is "3⁴". Between dollar signs TeX stands: its braces stay where they are (``\frac{s}{t}`` with drawn s and t).
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass

from bot.grading.drawn import exact, expressions, figures
from bot.grading.drawn.domains import Domains
from bot.grading.drawn.errors import Unread, quoted
from bot.grading.drawn.exact import Value
from bot.grading.drawn.expressions import Expression
from bot.grading.drawn.figures import Figure, Language, Wish
from bot.grading.signs import raised

MAX_CHARS = 1500
MAX_PLACES = 60

_PLACE = re.compile(r"\{([^{}]{1,220})\}")
_WISHED = re.compile(r"^(.*):\s*([^:|]*)$", re.DOTALL)
_TEX_GROUP = re.compile(r"(?:\\[A-Za-z]+|[_^}\]])$")


@dataclass(frozen=True, slots=True)
class Word:
    """A drawn word, or one of the texts that are known only when the answer is."""

    name: str
    capital: bool = False


@dataclass(frozen=True, slots=True)
class Quantity:
    """A number to be written."""

    formula: Expression
    wish: Wish
    computed: bool = False
    factor: bool = False
    bracketed: bool = False
    braces: bool = False

    def wish_for(self, value: Value) -> Wish:
        """Write a drawn value such as 1/3 as the fraction it was; a computed one is rounded."""
        endless = not self.computed and figures.decimals_of(value) is None
        return Wish("fraction") if endless and self.wish == figures.PLAIN else self.wish


@dataclass(frozen=True, slots=True)
class Forms:
    """Singular and plural of a word, by a number."""

    formula: Expression
    one: str
    many: str


Part = str | Word | Quantity | Forms


@dataclass(frozen=True, slots=True)
class Text:
    """A text taken apart, ready for any draw."""

    source: str
    parts: tuple[Part, ...]
    names: frozenset[str]

    @property
    def size(self) -> int:
        """Numbers, names and signs in all formulas of the text."""
        return sum(part.formula.size for part in self.parts if isinstance(part, Quantity | Forms))


def read(text: str, domains: Domains, later: frozenset[str] = frozenset()) -> Text:
    """Take a text apart.

    Parameters
    ----------
    text : str
    domains : Domains
    later : frozenset of str
        Which of "answer" and "wrong" may be used.

    Raises
    ------
    Unread
        ``placeholder`` when braces hold nothing that is known, ``text_long``, ``too_many_places``.
    """
    if len(text) > MAX_CHARS:
        raise Unread("text_long", most=MAX_CHARS)
    parts: list[Part] = []
    position, dollars = 0, 0
    for match in _PLACE.finditer(text):
        before = text[position : match.start()]
        dollars += before.count("$") - before.count("\\$")
        part = _Place(match[1], domains, later, tex=dollars % 2 == 1, group=_is_group(text, match)).part()
        parts += [before, match[0] if part is None else part]
        position = match.end()
    parts.append(text[position:])
    if len(parts) > 2 * MAX_PLACES:
        raise Unread("too_many_places", most=MAX_PLACES)
    _refuse_loose_braces(parts, text)
    used = {name for part in parts if isinstance(part, Quantity | Forms) for name in part.formula.names}
    used |= {part.name for part in parts if isinstance(part, Word)}
    return Text(text, tuple(part for part in parts if part != ""), frozenset(used))


def _is_group(text: str, match: re.Match[str]) -> bool:
    return _TEX_GROUP.search(text[max(0, match.start() - 30) : match.start()]) is not None


def _refuse_loose_braces(parts: list[Part], text: str) -> None:
    """Refuse braces outside TeX that belong to no value: a forgotten one would be shown to the class."""
    dollars = 0
    for part in parts:
        if isinstance(part, str):
            for place, run in enumerate(part.replace("\\$", "").split("$")):
                dollars += place > 0
                if dollars % 2 == 0 and ("{" in run or "}" in run):
                    raise Unread("placeholder", found=quoted(text))


@dataclass(frozen=True, slots=True)
class _Place:
    """What stands between one pair of braces."""

    inside: str
    domains: Domains
    later: frozenset[str]
    tex: bool
    group: bool

    def part(self) -> Part | None:
        """Return the part; None for TeX, which stays as it is."""
        if "|" in self.inside and not self.inside.startswith("="):
            return self.forms()
        if word := self.word():
            return word
        body, wish = self.wished()
        bracketed = body.startswith("(") and body.endswith(")")
        body = body[1:-1].strip() if bracketed else body
        formula = body.startswith("=")
        factor = body[-1:] in ("·", "*")
        name = body.removeprefix("=").rstrip("·* ")
        if not formula and name not in self.domains.numbers:
            if self.tex:
                return None
            raise Unread("placeholder", found=quoted("{" + self.inside + "}"))
        expression = expressions.read(name, self.domains.numbers)
        return Quantity(expression, wish, formula, factor, bracketed, braces=self.tex and self.group)

    def word(self) -> Word | None:
        name = self.inside.strip()
        if name in self.domains.words or name in self.later:
            return Word(name)
        small = name[:1].lower() + name[1:]
        return Word(small, capital=True) if small in self.domains.words else None

    def wished(self) -> tuple[str, Wish]:
        match = _WISHED.match(self.inside.strip())
        if match is None:
            return self.inside.strip(), figures.PLAIN
        wish = figures.read_wish(match[2])
        if wish is None:
            # ":" also divides, as in {=s:t}.
            return self.inside.strip(), figures.PLAIN
        return match[1].strip(), wish

    def forms(self) -> Forms | None:
        number, *forms = self.inside.split("|")
        number = number.strip()
        if number not in self.domains.numbers or len(forms) != 2:
            if self.tex:
                return None
            raise Unread("placeholder", found=quoted("{" + self.inside + "}"))
        return Forms(expressions.read(number, self.domains.numbers), *forms)


# --- filling in -------------------------------------------------------------------------------------------

_BINARY = re.compile(r"[\w)²³⁴⁵⁶⁷⁸⁹|}\]]$")
_SIGN = re.compile(r"(?P<before> ?)(?P<sign>[+\-−–])(?P<after> ?)$")
_TIMES = re.compile(r"(?:[·×*⋅÷/^(]| :|\\cdot|\\times) ?$")
_EQUALS = re.compile(r"=( ?)$")


def fill(text: Text, values: Mapping[str, Value | str], language: Language) -> str:
    """Write a text with the values of a draw.

    Raises
    ------
    Undefined
        When a formula in it has no value.

    Examples
    --------
    >>> from fractions import Fraction
    >>> from bot.grading.drawn import domains
    >>> known = domains.read("a = 1..2; b = -3..-3")
    >>> fill(read("{a·}x + {b}", known), {"a": Fraction(1), "b": Fraction(-3)}, "en")
    'x − 3'
    """
    return _Filling(values, language).all(text)


class _Filling:
    def __init__(self, values: Mapping[str, Value | str], language: Language) -> None:
        self.values = values
        self.language = language
        self.out = ""
        self.tex = False

    def all(self, text: Text) -> str:
        for place, part in enumerate(text.parts):
            if isinstance(part, str):
                self.out += part
                self.tex ^= (part.count("$") - part.count("\\$")) % 2 == 1
            elif isinstance(part, Word):
                word = str(self.values[part.name])
                self.out += word[:1].upper() + word[1:] if part.capital else word
            elif isinstance(part, Forms):
                value = expressions.evaluate(part.formula, self.values)
                self.out += part.one if value == 1 else part.many
            else:
                following = text.parts[place + 1] if place + 1 < len(text.parts) else ""
                self.number(part, following if isinstance(following, str) else "")
        return self.out

    def number(self, part: Quantity, following: str) -> None:
        value = expressions.evaluate(part.formula, self.values)
        figure = figures.write(value, part.wish_for(value), self.language)
        if figure.rounded:
            self.out = _EQUALS.sub(r"≈\1", self.out)
        body = self.body(figure, part.factor, following)
        if part.braces:
            self.out += f"{{{'-' if figure.negative else ''}{body}}}"
        elif part.bracketed and figure.negative:
            self.out += f"({'-' if self.tex else '−'}{body})"
        elif self.raised(figure):
            self.out = self.out[:-1] + raised(int(figure.value))
        else:
            self.signed(figure, body, following)

    def body(self, figure: Figure, factor: bool, following: str) -> str:
        text = figure.text
        if self.tex and figure.is_fraction:
            whole, _, part = text.rpartition(" ")
            text = whole + r"\frac{{{}}}{{{}}}".format(*part.split("/"))
        elif self.tex and self.language == "de":
            # mathtext sets a space after a bare comma.
            text = text.replace(",", "{,}")
        if factor and figure.text == "1" and not self.out.endswith("^"):
            return ""
        power = following.startswith(("^", *"²³⁴⁵⁶⁷⁸⁹"))
        needs = figure.is_fraction and (
            power or (factor and following[:1].isalnum()) or self.out.endswith("/")
        )
        return f"({text})" if needs and not self.tex and not figure.negative else text

    def raised(self, figure: Figure) -> bool:
        return self.out.endswith("^") and not self.tex and exact.is_whole(figure.value)

    def signed(self, figure: Figure, body: str, following: str) -> None:
        if not figure.negative:
            self.out += body
            return
        minus = "-" if self.tex else "−"
        sign = _SIGN.search(self.out)
        if sign and self.is_between(sign):
            other = minus if sign["sign"] == "+" else "+"
            self.out = f"{self.out[: sign.start('sign')]}{other}{sign['after']}{body}"
        elif sign or _TIMES.search(self.out) or following.startswith(("^", *"²³⁴⁵⁶⁷⁸⁹")):
            inner = f"{minus}{body or '1'}"
            self.out += inner if self.out.endswith("(") and following.startswith(")") else f"({inner})"
        else:
            self.out += f"{minus}{body}"

    def is_between(self, sign: re.Match[str]) -> bool:
        """Whether a sign joins two terms ("x + {b}"), and does not belong to one ("at -{b}")."""
        return _BINARY.search(self.out[: sign.start()]) is not None and sign["before"] == sign["after"]
