"""Raised and lowered characters of formatted cells, in plain text: 3·10⁸, H₂O, x^(a+b)."""

from __future__ import annotations

import re
from typing import Literal

Place = Literal["raised", "lowered"]

# Unicode 15, block "Superscripts and Subscripts", and the modifier letters that formulas use.
_RAISED = dict(zip("0123456789+-−=()ni", "⁰¹²³⁴⁵⁶⁷⁸⁹⁺⁻⁻⁼⁽⁾ⁿⁱ", strict=True))
_LOWERED = dict(zip("0123456789+-−=()", "₀₁₂₃₄₅₆₇₈₉₊₋₋₌₍₎", strict=True))
_MAPS = {"raised": _RAISED, "lowered": _LOWERED}
_SIGNS = {"raised": "^", "lowered": "_"}
_ORDINAL = re.compile(r"st|nd|rd|th|er|ers|re|res|e|ème|ère|o|a|os|as", re.IGNORECASE)


def placed(text: str, place: Place, before: str = "") -> str:
    """Write raised or lowered text with Unicode characters, or with ^ or _ where there are none.

    Parameters
    ----------
    text : str
        The characters that stand raised or lowered.
    place : {'raised', 'lowered'}
        Where they stand.
    before : str
        The text in front of them: the raised letters of an ordinal (1st) stay as they are.

    Examples
    --------
    >>> "10" + placed("-8", "raised"), "H" + placed("2", "lowered"), "v" + placed("max", "lowered")
    ('10⁻⁸', 'H₂', 'v_max')
    >>> "x" + placed("a+b", "raised"), "the 1" + placed("st", "raised", "the 1")
    ('x^(a+b)', 'the 1st')
    """
    inner = text.strip()
    if not inner:
        return text
    if place == "raised" and before[-1:].isdigit() and _ORDINAL.fullmatch(inner):
        return text
    known = _MAPS[place]
    if all(char in known for char in inner):
        written = "".join(known[char] for char in inner)
    elif not inner.isascii() and not any(char.isalnum() and char.isascii() for char in inner):
        return text  # a sign such as ° or ² that was raised by hand besides
    else:
        written = _SIGNS[place] + (inner if inner.isalnum() else f"({inner})")
    return text.replace(inner, written)
