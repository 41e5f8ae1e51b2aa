"""Plain signs: what phones, keyboards and scripts write differently becomes one spelling.

The order matters and is the reason for this module. Unicode's compatibility form (NFKC, UAX #15) turns a raised
2 into an ordinary one, so that ``5²`` would read 52 and ``1½`` would read 11/2. Raised digits and ready-made
fractions are therefore rewritten first (``^2``, a space and ``1/2``), and only then is the text normalised.
NFKC leaves the minus sign, dashes, the multiplication sign and the digits of other scripts alone: they are
mapped here by name.
"""

from __future__ import annotations

import re
import unicodedata

# Nothing a student types as one short answer is longer; what is longer is refused before any work is done.
MAX_CHARS = 200

_RAISED = {ord(sign): plain for sign, plain in zip("⁰¹²³⁴⁵⁶⁷⁸⁹⁺⁻⁽⁾ⁿ", "0123456789+-()n", strict=True)}
_RAISED_RUN = re.compile("[⁰¹²³⁴⁵⁶⁷⁸⁹⁺⁻⁽⁾ⁿ]+")
_MINUS = "‐‑‒–—―−﹣－➖⁻"
_ONE_MINUS = {ord(sign): "-" for sign in _MINUS}
_TIMES = "×⋅∙•∗✕✖·"
_SLASH = "⁄∕÷➗"
# Taken for a degree sign; NFKC would make letters of them (an o, a ring that nothing carries).
_DEGREES = {ord(sign): "°" for sign in "º˚"}
_SIGNS = (
    _ONE_MINUS
    | {ord(sign): "·" for sign in _TIMES}
    | {ord(sign): "/" for sign in _SLASH}
    | {ord(sign): "'" for sign in "’‘ʹ٬´`"}
    | {ord("،"): ",", ord("∶"): ":", ord("➕"): "+"}
)


def is_too_long(text: str) -> bool:
    """Whether a text is longer than any answer asked for."""
    return len(text) > MAX_CHARS


def without_marks(text: str) -> str:
    """Drop what cannot be seen: direction marks, joiners, emoji selectors, control characters."""
    return "".join(sign for sign in text if _is_seen(sign))


def _is_seen(sign: str) -> bool:
    if sign.isspace():
        return True
    if sign in "︎️⃣":
        return False
    return unicodedata.category(sign) not in ("Cc", "Cf", "Cs", "Co", "Cn")


def raised_to_powers(text: str) -> str:
    """Rewrite raised digits as powers: ``10⁻³`` becomes ``10^-3``."""
    return _RAISED_RUN.sub(lambda run: "^" + run[0].translate(_RAISED), text)


def ready_fractions(text: str) -> str:
    """Rewrite ready-made fractions: ``1¾`` becomes ``1 3/4``, ``½`` becomes ``1/2``."""
    parts: list[str] = []
    for sign in text:
        kind, _, digits = unicodedata.decomposition(sign).partition(" ")
        if kind != "<fraction>":
            parts.append(sign)
            continue
        written = "".join(chr(int(code, 16)) for code in digits.split()).replace("\u2044", "/")
        before = parts[-1][-1:] if parts else ""
        parts.append(f" {written}" if before.isdigit() else written)
    return "".join(parts)


def plain_digits(text: str) -> str:
    """Write the decimal digits of every script as 0-9."""
    return "".join(_plain_digit(sign) for sign in text)


def _plain_digit(sign: str) -> str:
    if sign.isascii() or not sign.isdecimal():
        return sign
    return str(unicodedata.decimal(sign))


def one_minus(text: str) -> str:
    """Write every minus, hyphen and dash as the plain one."""
    return text.translate(_ONE_MINUS)


def plain(text: str) -> str:
    """Return an answer in plain signs: one minus, one multiplication sign, one slash, digits 0-9, single blanks.

    Examples
    --------
    >>> plain("−3×10⁸ m∕s²")
    '-3·10^8 m/s^2'
    >>> plain("1½"), plain("٣٫٥"), plain("５　㎡")
    ('1 1/2', '3٫5', '5 m2')
    """
    seen = ready_fractions(raised_to_powers(without_marks(text).translate(_DEGREES)))
    signs = unicodedata.normalize("NFKC", seen).translate(_SIGNS)
    return " ".join(plain_digits(signs).replace("**", "^").replace("*", "·").split())


_RAISE = str.maketrans("0123456789+-", "⁰¹²³⁴⁵⁶⁷⁸⁹⁺⁻")


def raised(number: int) -> str:
    """Write a whole number in raised digits, to show powers."""
    return str(number).translate(_RAISE)
