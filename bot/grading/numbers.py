"""Reading a number as people write it, with every reading that it may honestly have.

Read: ``3/4``, ``1 3/4``, ``1¾``, ``2.7``, ``2,7``, ``2·7``, ``.5``, ``1 234,5``, ``1'234.5``, ``1,23,456``, ``3e8``,
``3×10^8``, ``3·10⁸``, ``10^-3``, ``300 million``, the ratio ``2:1``, a minus of any kind, the digits of every
script. ``1,234`` and ``1.234`` have two readings (a decimal sign or groups of three, as is the custom in different
countries); whoever compares takes both. Not read: sums, ranges, number words (:mod:`bot.grading.numberwords`). A
number that is left as a whole-number division is read.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from bot.grading.courtesy import without_lead, without_tail
from bot.grading.signs import is_too_long, plain, raised

# Longer numbers are not answers, and a float would not hold them.
MAX_DIGITS = 40
MAX_POWER = 300

# "v = 5", "density = 2.7", "about 5", "it's 5": what people write in front of the number.
_NAMED = re.compile(r"^(?:[^\W\d][\w' ]{0,20})?[=≈~:] ?")
_PHRASES = (
    "answer|result|about|approximately|approx[.]?|around|roughly|exactly|circa|ca[.]?|etwa|ungefähr|rund|genau|"
    "environ"
)
_PHRASE = re.compile(rf"^(?:{_PHRASES})(?![\w]) ?", re.IGNORECASE)
_SIGN = re.compile(r"^([+-]) ?")
_MIXED = re.compile(r"(\d{1,9}) (\d{1,9}) ?/ ?(\d{1,9})(?![\d.,])")
_FRACTION = re.compile(r"(\d{1,12}) ?/ ?(\d{1,12})(?![\d.,])")
_GROUPED = re.compile(r"\d{1,3}(?:[ ]\d{3})+(?!\d)(?:[.,٫]\d+)?")
_DECIMAL = re.compile(r"\d+(?:[.,'٫]\d+)*(?:·\d+(?!\d| ?\^))?|[.,٫]\d+")
_POWER = r"10 ?\^ ?[({]? ?([+-]? ?\d{1,4})(?!\d) ?[)}]?"
_TEN = re.compile(_POWER)
_TIMES_TEN = re.compile(r" ?[xX·] ?" + _POWER)
_E = re.compile(r"[eE]([+-]?\d{1,4})(?!\d)")
_CURRENCY = "$€£¥₹"
_PART = r"\d{1,9}(?:[.,]\d{1,9})?"
_RATIO = re.compile(rf"({_PART}) ?(?::| to | zu ) ?({_PART})(?![\d:]| ?[:/])")
# "Billion" is a thousand times more in German than in English: not read.
_LARGE = re.compile(
    r"^ ?(?:(thousand|tausend)|(millions?|millionen|mio\b[.]?)|(milliarden?|mrd\b[.]?))(?!\w)", re.IGNORECASE
)


@dataclass(frozen=True, slots=True)
class Numeral:
    """One reading of a written number.

    Attributes
    ----------
    value : float
    figures : int or None
        Figures written, leading zeros not counted; None for a fraction and a ratio, which are exact.
    place : int or None
        Power of ten of the last figure written (-1 for 2.7); None for a fraction.
    """

    value: float
    figures: int | None = None
    place: int | None = None

    @property
    def rounding(self) -> float:
        """Half a unit of the last figure written: how far rounding may have moved the value; 0 if exact."""
        return 0.0 if self.place is None else 0.5 * 10.0**self.place


@dataclass(frozen=True, slots=True)
class Written:
    """A number as written, every reading of it, and the text that follows (a unit, if anything)."""

    readings: tuple[Numeral, ...]
    rest: str


def read(text: str) -> Written | None:
    """Read the number at the start of an answer.

    Parameters
    ----------
    text : str
        What the student typed, at most 200 characters.

    Returns
    -------
    Written or None
        None when no number stands there.

    Examples
    --------
    >>> read("v = 2,70 g/cm³")
    Written(readings=(Numeral(value=2.7, figures=3, place=-2),), rest='g/cm^3')
    >>> [numeral.value for numeral in read("1,234").readings]
    [1.234, 1234.0]
    >>> read("about two and a bit") is None
    True
    """
    if is_too_long(text):
        return None
    body = _without_currency(_without_lead(plain(text)))
    sign = _SIGN.match(body)
    negative = sign is not None and sign[1] == "-"
    found = _unsigned(body[sign.end() :] if sign else body)
    if found is None:
        return None
    readings, rest = found
    usable = tuple(_signed(numeral, negative) for numeral in readings if math.isfinite(numeral.value))
    return Written(usable, without_tail(_without_currency(rest))) if usable else None


def _without_lead(text: str) -> str:
    # Three phrases may follow each other: "I think it is about 5".
    for _ in range(3):
        text = _PHRASE.sub("", _NAMED.sub("", without_lead(text)))
    return text


def _without_currency(text: str) -> str:
    return text.strip().strip(_CURRENCY).strip()


def _signed(numeral: Numeral, negative: bool) -> Numeral:
    return Numeral(-numeral.value, numeral.figures, numeral.place) if negative else numeral


def _unsigned(text: str) -> tuple[list[Numeral], str] | None:
    for reader in (_mixed, _fraction, _ratio, _ten_power, _scaled):
        found = reader(text)
        if found is not None:
            return found
    return None


def _mixed(text: str) -> tuple[list[Numeral], str] | None:
    match = _MIXED.match(text)
    if match is None:
        return None
    whole, top, bottom = (int(part) for part in match.groups())
    # "1 234/5" is not a mixed number; a proper fraction is smaller than one.
    if top >= bottom:
        return None
    return [Numeral(whole + top / bottom)], text[match.end() :]


def _fraction(text: str) -> tuple[list[Numeral], str] | None:
    match = _FRACTION.match(text)
    if match is None or int(match[2]) == 0:
        return None
    return [Numeral(int(match[1]) / int(match[2]))], text[match.end() :]


def _ratio(text: str) -> tuple[list[Numeral], str] | None:
    match = _RATIO.match(text)
    if match is None:
        return None
    first, second = (float(part.replace(",", ".")) for part in match.groups())
    return ([Numeral(first / second)], text[match.end() :]) if second else None


def _ten_power(text: str) -> tuple[list[Numeral], str] | None:
    match = _TEN.match(text)
    if match is None:
        return None
    numeral = _numeral("1", "", _exponent(match[1]))
    return ([numeral] if numeral else []), text[match.end() :]


def _scaled(text: str) -> tuple[list[Numeral], str] | None:
    match = _GROUPED.match(text) or _DECIMAL.match(text)
    if match is None:
        return None
    rest = text[match.end() :]
    # "5." at the end of a sentence.
    rest = rest[1:] if rest[:1] in (".", ",") and not rest[1:2].isdigit() else rest
    power = _TIMES_TEN.match(rest) or _E.match(rest)
    exponent = _exponent(power[1]) if power else 0
    pairs = _readings_of(match[0])
    rest = rest[power.end() :] if power else rest
    large = _LARGE.match(rest)
    if large:
        exponent += next(zeros for zeros, word in zip((3, 6, 9), large.groups(), strict=True) if word)
        rest = rest[large.end() :]
    numerals = [numeral for pair in pairs if (numeral := _numeral(*pair, exponent)) is not None]
    return (numerals, rest) if numerals else None


def _exponent(text: str) -> int:
    return int(text.replace(" ", ""))


def _numeral(whole: str, decimals: str, exponent: int) -> Numeral | None:
    digits = (whole + decimals).lstrip("0")
    if len(whole) + len(decimals) > MAX_DIGITS or abs(exponent) > MAX_POWER:
        return None
    value = float(f"{whole or '0'}.{decimals or '0'}e{exponent}")
    return Numeral(value, max(len(digits), 1), exponent - len(decimals))


def _readings_of(text: str) -> list[tuple[str, str]]:
    """Whole digits and decimals of a number with separators, for every custom under which it is well formed."""
    signs = [sign for sign in text if not sign.isdigit()]
    if not signs:
        return [(text, "")]
    last = signs[-1]
    head, _, tail = text.rpartition(last)
    readings: list[tuple[str, str]] = []
    # The last separator is the decimal sign, the others (all alike, and not the same one) group.
    if last in ".,٫·" and _is_grouped(head, set(signs[:-1]) - {last}) and signs.count(last) == 1:
        readings.append((_digits(head), tail))
    if last in ".,' " and _is_grouped(text, set(signs)) and not text.startswith("0"):
        readings.append((_digits(text), ""))
    return readings


def _is_grouped(text: str, separators: set[str]) -> bool:
    """Whether one kind of separator cuts the digits in groups of three (or two before the last, as in India)."""
    if not separators:
        return text.isdigit() or not text
    if len(separators) > 1 or separators & {"٫", "·"}:
        return False
    first, *middle, last = text.split(separators.pop())
    by_three = all(len(group) == 3 for group in middle) and 1 <= len(first) <= 3
    by_two = bool(middle) and all(len(group) == 2 for group in middle) and 1 <= len(first) <= 2
    return len(last) == 3 and (by_three or by_two)


def _digits(text: str) -> str:
    return "".join(sign for sign in text if sign.isdigit())


def shown(value: float) -> str:
    """Write a number to be read by people.

    Examples
    --------
    >>> shown(2.7), shown(-40.0), shown(3e8), shown(1.602e-19), shown(12500.0)
    ('2.7', '−40', '3×10⁸', '1.602×10⁻¹⁹', '12500')
    """
    # Adding zero turns -0.0 into 0.
    mantissa, _, power = f"{value + 0.0:.10g}".partition("e")
    if not power and value != 0 and value == int(value) and abs(value) >= 1e6:
        mantissa, _, power = f"{value:.9e}".partition("e")
        mantissa = mantissa.rstrip("0").rstrip(".")
    written = f"{mantissa}×10{raised(int(power))}" if power else mantissa
    return written.replace("-", "−")
