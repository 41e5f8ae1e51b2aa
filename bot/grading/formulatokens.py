"""Cutting a formula into numbers, names, functions and signs.

Letters that stand together are several quantities (``mgh``), unless they are a function, a Greek letter's name or
a longer name that the question's own formula uses (``Ekin``).
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Literal

MAX_DIGITS = 40

FUNCTIONS = {
    "sqrt", "sin", "cos", "tan", "cot", "ln", "log", "lg", "exp", "abs", "sinh", "cosh", "tanh",
    "asin", "acos", "atan", "arcsin", "arccos", "arctan",
}  # fmt: skip
_GREEK = {
    "alpha": "α", "beta": "β", "gamma": "γ", "delta": "δ", "epsilon": "ε", "zeta": "ζ", "eta": "η", "theta": "θ",
    "kappa": "κ", "lambda": "λ", "mu": "μ", "nu": "ν", "xi": "ξ", "rho": "ρ", "sigma": "σ", "tau": "τ",
    "phi": "φ", "chi": "χ", "psi": "ψ", "omega": "ω",
    "Delta": "Δ", "Omega": "Ω", "Phi": "Φ", "Psi": "Ψ", "Sigma": "Σ", "Gamma": "Γ", "Lambda": "Λ", "Theta": "Θ",
}  # fmt: skip
SAME_LETTER = str.maketrans("ϕϑϱϵ∆Ω", "φθρεΔΩ")
_WORDS = sorted({*FUNCTIONS, *_GREEK, "pi"}, key=len, reverse=True)
LONG_WORDS = frozenset(word.casefold() for word in _WORDS if len(word) > 3)
_NUMBER = re.compile(r"(?:\d+(?:[.,٫]\d+)?|[.,٫]\d+)(?:[eE][+-]?\d{1,3}(?![\d.,]))?")
_INDEX = re.compile(r"_ ?(?:\{([^\W_]{1,12})\}|([^\W_]{1,12}))")


class FormulaError(ValueError):
    """The text is no formula that can be read.

    Attributes
    ----------
    code : str
        Why: the text is ``formula.CODE``.
    sign : str
        The sign or number that it is about, where there is one.
    """

    def __init__(self, code: str, sign: str = "") -> None:
        super().__init__(f"{code} {sign}".rstrip())
        self.code, self.sign = code, sign


@dataclass(frozen=True, slots=True)
class Token:
    """A number, name, function or sign, with the text it was read from."""

    kind: Literal["number", "name", "function", "sign", "end"]
    text: str
    value: float = 0.0
    after_blank: bool = False


def tokens(text: str, known: Iterable[str]) -> list[Token]:
    """Cut a text into tokens; the last one is the end.

    Raises
    ------
    FormulaError
        At a sign that has no place in a formula.
    """
    # Single letters are read as letters anyway; taken first they would cut "exp" after a known "e".
    names = sorted((name for name in known if len(name) > 1), key=len, reverse=True)
    found: list[Token] = []
    position, blank = 0, False
    while position < len(text):
        if text[position].isspace():
            position, blank = position + 1, True
            continue
        token, position = _next(text, position, names)
        found.append(replace(token, after_blank=blank))
        blank = False
    return [*found, Token("end", "")]


def _next(text: str, at: int, known: list[str]) -> tuple[Token, int]:
    number = _NUMBER.match(text, at)
    if number:
        return _number(number[0]), number.end()
    if text[at] in "+-·/:^()[]{}|√":
        return Token("sign", text[at]), at + 1
    if not text[at].isalpha():
        raise FormulaError("sign", text[at])
    for name in known:
        if text.startswith(name, at) and not _INDEX.match(text, at + len(name)):
            return Token("name", name), at + len(name)
    return _word(text, at)


def _number(text: str) -> Token:
    if sum(sign.isdigit() for sign in text) > MAX_DIGITS:
        raise FormulaError("number_long", text[:12])
    return Token("number", text, float(text.replace(",", ".").replace("٫", ".")))


def _word(text: str, at: int) -> tuple[Token, int]:
    for word in _WORDS:
        if text.startswith(word, at) and _ends_well(word, text, at + len(word)):
            return _letter(word, text, at + len(word))
    # A phone writes the first letter large.
    lower = text[at].lower() + text[at + 1 :]
    for word in _WORDS:
        if word in FUNCTIONS and lower.startswith(word) and len(word) > 1:
            return Token("function", word), at + len(word)
    return _letter(text[at], text, at + 1)


def _ends_well(word: str, text: str, end: int) -> bool:
    # "pint" is no pi; "sinx" is a sine: students write it.
    return word in FUNCTIONS or not text[end : end + 1].isalpha() or len(word) > 2


def _letter(word: str, text: str, end: int) -> tuple[Token, int]:
    if word == "log" and (base := re.compile(r" ?_ ?\{?(10|2|e)\}?").match(text, end)):
        return Token("function", {"10": "lg", "2": "log2", "e": "ln"}[base[1]]), base.end()
    if word in FUNCTIONS:
        return Token("function", word), end
    name = _GREEK.get(word, word)
    index = _INDEX.match(text, end) or re.compile(r"()(\d{1,3})(?!\d)").match(text, end)
    if index:
        return Token("name", name + (index[1] or index[2])), index.end()
    return (Token("name", "π") if name in ("pi", "π") else Token("name", name)), end
