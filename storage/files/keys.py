"""What kind of question an answer makes: number, formula or text. A light look only; grading checks every key again."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass
from typing import Literal

from storage.files.values import Tolerance

_SUPERSCRIPTS = str.maketrans("⁰¹²³⁴⁵⁶⁷⁸⁹⁻⁺", "0123456789-+")
_DIGITS = r"(?:\d{1,3}(?:[ '’\u00a0\u2009\u202f]\d{3})+|\d{1,3}(?:,\d{3}){2,}|\d+)"
_POWER = r"(?:[eE][+-]?\d{1,3}|\s?[×x*·]\s?10\s?(?:\^\s?\(?[+-]?\d{1,3}\)?|\*\*[+-]?\d{1,3}))"
_NUMBER = re.compile(
    rf"(?P<number>[+-]?\s?(?:{_DIGITS}\s\d+\s?/\s?\d+|\d+\s?/\s?\d+|(?:{_DIGITS}(?:[.,]\d+)?|[.,]\d+)(?:{_POWER})?"
    rf"|10\s?\^\s?\(?[+-]?\d{{1,3}}\)?))(?P<rest>.*)",
    re.DOTALL,
)
# Unit symbols and words of school science (SI Brochure, 9th edition, 2019, tables 2, 4, 7 and 8, and common practice).
_PREFIX = "(?:da|[YZEPTGMkhdcmuµμnpfazy])?"
_SYMBOL = (
    rf"(?:{_PREFIX}(?:mol|cd|Hz|Pa|Wb|lm|lx|Bq|Gy|Sv|kat|eV|cal|Wh|bar|rad|sr|[mgsAKNJWVCFΩΩSTHlLtBu])"
    r"|°C|°F|°|'|\"|%|‰|min|h|d|a|ha|kn|mmHg|atm|in|ft|yd|mi|lb|oz|ohm|rpm|ppm|dB|[€$£])"
)
_WORD = (
    r"(?:metres?|meters?|seconds?|minutes?|hours?|days?|years?|grams?|kilograms?|newtons?|joules?|watts?|volts?|amperes?|"
    r"amps?|ohms?|pascals?|hertz|kelvin|litres?|liters?|moles?|degrees?|percent|per ?cent|Prozent|Sekunden?|"
    r"Minuten?|Stunden?|Tage?|Jahre?|Meter|Gramm|Liter|Grad|euros?|pounds?|dollars?)"
)
_ONE_UNIT = rf"(?:{_WORD}|{_SYMBOL})(?:\^?\(?[+-]?\d\)?)?"
_UNIT = re.compile(rf"(?:1\s?/\s?)?{_ONE_UNIT}(?:\s?(?:/|·|⋅|\*|\.|\s|per)\s?\(?{_ONE_UNIT}\)?){{0,4}}")
_FRACTIONS = {char: unicodedata.normalize("NFKC", char).replace("\u2044", "/") for char in "½⅓⅔¼¾⅕⅖⅗⅘⅙⅚⅛⅜⅝⅞"}
_FUNCTIONS = {"sqrt", "sin", "cos", "tan", "asin", "acos", "atan", "log", "ln", "exp", "abs", "pi"}
_FORMULA = re.compile(r"[\w\s½⅓⅔¼¾⅕⅖⅗⅘⅙⅚⅛⅜⅝⅞+\-*/^=().,·×|√²³⁰¹⁴-⁹⁻{}\\]+")


@dataclass(frozen=True)
class Key:
    """An answer looked at: its kind, its text without dollar signs, and the unit written behind a number."""

    kind: Literal["number", "text", "formula"]
    answer: str
    unit: str | None = None


def look_at(answer: str, unit: str | None) -> Key:
    """Tell whether an answer is a number (with or without unit), a formula or a text.

    Parameters
    ----------
    answer : str
        As written by the teacher, not empty.
    unit : str or None
        What stands in the unit column.

    Returns
    -------
    Key

    Examples
    --------
    >>> look_at("2,7 g/cm³", None)
    Key(kind='number', answer='2,7', unit='g/cm³')
    >>> look_at("$v^2/r$", None).kind, look_at("m*a", None).kind, look_at("and/or", None).kind
    ('formula', 'formula', 'text')
    >>> look_at("1914 war", None).kind, look_at("3 × 10^8", "m/s").kind
    ('text', 'number')
    """
    bare = answer.strip()
    if len(bare) > 2 and bare.startswith("$") and bare.endswith("$"):
        bare = bare.strip("$").strip()
        number = _as_number(bare, unit)
        return number or Key("formula", bare)
    number = _as_number(bare, unit)
    if number:
        return number
    return Key("formula" if is_formula(bare) else "text", bare)


def _as_number(answer: str, unit: str | None) -> Key | None:
    """Read a number with an optional unit behind it; None if it is something else."""
    plain = plain_number(answer)
    found = _NUMBER.fullmatch(plain)
    if found is None:
        return None
    rest = found["rest"].strip()
    if not rest:
        return Key("number", answer, unit)
    if not _UNIT.fullmatch(rest.translate(_SUPERSCRIPTS)):
        return None
    number = answer[: len(found["number"])].strip() if len(plain) == len(answer) else found["number"].strip()
    written = answer[len(found["number"]) :].strip() if len(plain) == len(answer) else rest
    return Key("number", number, written)


_FORMULA_BETWEEN_DOLLARS = re.compile(r"(\$\$?)(?=\S)[^$\n]*?(?<=[^\s\\$])\1(?!\d)")


def several(answer: str) -> list[str]:
    """Cut an answer into the right answers that stand in it with bars between them, with or without blanks.

    A bar within brackets or a formula is part of it, and so are the two of a modulus.

    Examples
    --------
    >>> several("Newton|N"), several("newton | N"), several("P(A|B)"), several("2|x| + 1"), several("$|x|$")
    (['Newton', 'N'], ['newton', 'N'], ['P(A|B)'], ['2|x| + 1'], ['$|x|$'])
    """
    kept = [found.span() for found in _FORMULA_BETWEEN_DOLLARS.finditer(answer)]
    parts, depth = [""], 0
    for place, sign in enumerate(answer):
        depth += (sign in "([{") - (sign in ")]}")
        if sign == "|" and depth <= 0 and not any(start <= place < end for start, end in kept):
            parts.append("")
        else:
            parts[-1] += sign
    parts = [part.strip() for part in parts]
    return [answer] if len(parts) == 1 or not all(parts) or _is_modulus(answer, parts) else parts


def _is_modulus(answer: str, parts: list[str]) -> bool:
    """Whether the bars are those of ``2|x| + 1``: an even number of them, and nothing that stands alone outside."""
    if len(parts) % 2 == 0 or " | " in answer:
        return False
    return any(re.search(r"[-+*/·^=]$", part) or re.match(r"[-+*/·^=]", part) for part in parts)


def plain_number(text: str) -> str:
    """Write minus signs as hyphens, superscripts after 10 as a power, ½ as 1/2, so that one pattern reads all.

    Examples
    --------
    >>> plain_number("−3 · 10⁻⁸"), plain_number("2½ m")
    ('-3 · 10^-8', '2 1/2 m')
    """
    text = re.sub(r"(?<=\d)(?=[½⅓⅔¼¾⅕⅖⅗⅘⅙⅚⅛⅜⅝⅞])", " ", text)
    text = "".join(_FRACTIONS.get(char, char) for char in text)
    text = "".join(str(unicodedata.decimal(char)) if char.isdecimal() else char for char in text)
    text = text.replace("\u2212", "-").replace("\u2013", "-").replace("\u066b", ".")
    return re.sub(r"(?<=10)[⁰¹²³⁴⁵⁶⁷⁸⁹⁻⁺]+", lambda power: "^" + power.group().translate(_SUPERSCRIPTS), text)


def is_formula(text: str) -> bool:
    """Whether a text has a variable and an operator, and no word that is not a function.

    Examples
    --------
    >>> is_formula("2x + 1"), is_formula("F = m a"), is_formula("½mv²")
    (True, True, True)
    >>> is_formula("x-ray"), is_formula("H2O"), is_formula("N/A")
    (False, False, False)
    """
    if not _FORMULA.fullmatch(text) or text.upper() == "N/A":
        return False
    plain = "".join(_FRACTIONS.get(char, char) for char in text).translate(_SUPERSCRIPTS)
    words = re.findall(r"[^\W\d_]+", plain)
    signs = re.search(r"[=²³½⅓¼¾]", text)
    variables = [word for word in words if len(word) == 1 or (len(word) == 2 and signs)]
    others = [word for word in words if word not in variables and word not in _FUNCTIONS]
    operators = re.search(r"[-+*/^=·×√²³½⅓¼¾]|\w\s*\(", text)
    return bool(variables) and not others and operators is not None


def two_ways(answer: str) -> tuple[str, str] | None:
    """Give both readings of a number such as ``1,234`` (a thousand or a decimal comma); None if there is one only.

    Examples
    --------
    >>> two_ways("1,234"), two_ways("12,5"), two_ways("0,125")
    (('1234', '1.234'), None, None)
    """
    found = re.fullmatch(r"([+-]?[1-9]\d{0,2}),(\d{3})", plain_number(answer))
    return (found[1] + found[2], f"{found[1]}.{found[2]}") if found else None


def read_tolerance(written: str) -> Tolerance | None:
    """Read ``0.1``, ``±0,1``, ``5 %``; None if it is no tolerance.

    Examples
    --------
    >>> read_tolerance("± 5 %"), read_tolerance("0,1"), read_tolerance("about")
    (Tolerance(amount=0.05, relative=True), Tolerance(amount=0.1, relative=False), None)
    """
    found = re.fullmatch(
        r"(?:±|\+/?-)?\s*(\d{1,9}(?:[.,]\d{1,9})?(?:[eE]-?\d{1,2})?)\s*(%|percent|prozent)?", written.strip()
    )
    if found is None:
        return None
    amount = float(found[1].replace(",", "."))
    return Tolerance(amount / 100, relative=True) if found[2] else Tolerance(amount)
