r"""School LaTeX in plain signs: ``\frac{s}{t}`` is (s)/(t), ``\sqrt{x}`` is √(x), ``\cdot`` is a dot.

Only what a formula of one line needs. The work is bounded by the length of the text: every command is rewritten
once, and nesting ends at a fixed depth.
"""

from __future__ import annotations

import re

MAX_DEPTH = 12

_DOLLARS = re.compile(r"^(\$\$?)\s*([^$]+?)\s*\1[.!?]?$")
_COMMAND = re.compile(r"\\([A-Za-z]+|[^A-Za-z])")
_SIGNS = {
    "cdot": "·", "times": "·", "ast": "·", "div": "/", "pm": "±", "mp": "∓", "degree": "°", "circ": "°",
    "lbrace": "{", "rbrace": "}", "lvert": "|", "rvert": "|", "vert": "|",
}  # fmt: skip
# Spaces, sizes and fonts say nothing about the value.
_SPACES = ("quad", "qquad", ",", ";", ":", "!", "left", "right", "displaystyle", "textstyle", "limits")
_SIZES = ("big", "Big", "bigg", "Bigg", "bigl", "bigr", "Bigl", "Bigr")
_FONTS = frozenset({"text", "textrm", "rm", "mathrm", "mathit", "mathsf", "mathbf", "operatorname"})
_NOTHING = frozenset({*_SPACES, *_SIZES, *_FONTS})
_FRACTIONS = frozenset({"frac", "dfrac", "tfrac", "cfrac"})


def inside_dollars(text: str) -> str | None:
    r"""Return the formula of a text that is nothing but one between dollar signs; None where it is not.

    Examples
    --------
    >>> inside_dollars(r"$\frac{s}{t}$"), inside_dollars("$5"), inside_dollars("$5 to $6")
    ('\\frac{s}{t}', None, None)
    """
    found = _DOLLARS.match(text.strip())
    return found[2] if found else None


def plain_formula(text: str) -> str:
    r"""Write LaTeX in plain signs; a text without a command stays as it is, but for its dollar signs.

    Examples
    --------
    >>> plain_formula(r"$E = \frac{1}{2} m v^{2}$"), plain_formula(r"2\pi\sqrt{\frac{l}{g}}")
    ('E = (1/2) m v^{2}', '2 pi √(l/g)')
    >>> plain_formula("v = s/t")
    'v = s/t'
    """
    inner = inside_dollars(text)
    text = text if inner is None else inner
    if "\\" not in text:
        return text
    return " ".join(_LatexReader(text).whole().split())


class _LatexReader:
    """One pass from left to right."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.at = 0
        self.depth = 0

    def whole(self) -> str:
        parts: list[str] = []
        while self.at < len(self.text):
            parts.append(self.part())
        return "".join(parts)

    def part(self) -> str:
        """Read a command with what belongs to it, or one sign."""
        command = _COMMAND.match(self.text, self.at)
        if command is None:
            self.at += 1
            return self.text[self.at - 1]
        self.at = command.end()
        name = command[1]
        if name in _FRACTIONS:
            return self.fraction()
        if name == "sqrt":
            return self.root()
        if name in _NOTHING:
            return self.text_of_font(name)
        if name in _SIGNS:
            return _SIGNS[name]
        # Greek letters and functions have their names in plain formulas; blanks keep them apart.
        return f" {name} " if name.isalpha() else name

    def text_of_font(self, name: str) -> str:
        if name in _FONTS and self.next_sign() == "{":
            return self.argument()
        # "\left." has no bracket.
        if name in ("left", "right") and self.next_sign() == ".":
            self.at = self.text.index(".", self.at) + 1
        return " "

    def next_sign(self) -> str:
        return self.text[self.at :].lstrip()[:1]

    def argument(self) -> str:
        """Read what a command is applied to: a group in braces, a command, or one sign."""
        self.at += len(self.text[self.at :]) - len(self.text[self.at :].lstrip())
        self.depth += 1
        try:
            if self.depth > MAX_DEPTH or self.next_sign() != "{":
                return self.part().strip() if self.at < len(self.text) else ""
            self.at += 1
            parts: list[str] = []
            while self.at < len(self.text) and self.text[self.at] != "}":
                parts.append("{" + self.argument() + "}" if self.text[self.at] == "{" else self.part())
            self.at += 1
            return "".join(parts).strip()
        finally:
            self.depth -= 1

    def fraction(self) -> str:
        above, below = self.argument(), self.argument()
        return f"({_one(above)}/{_one(below)})"

    def root(self) -> str:
        if self.next_sign() != "[":
            return f"√{_in_brackets(self.argument())}"
        end = self.text.find("]", self.at)
        degree = self.text[self.text.index("[", self.at) + 1 : end] if end > 0 else ""
        self.at = end + 1 if end > 0 else len(self.text)
        return f"({self.argument()})^(1/({degree}))"


def _one(part: str) -> str:
    """Put what is more than one number or letter in brackets."""
    return part if re.fullmatch(r"\w", part) or re.fullmatch(r"\d+|\([^()]*\)", part) else f"({part})"


def _in_brackets(part: str) -> str:
    return part if re.fullmatch(r"\([^()]*\)", part) else f"({part})"
