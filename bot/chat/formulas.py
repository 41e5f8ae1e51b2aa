r"""Formulas between dollar signs: readable text for everyone, and a picture where text is not enough.

``The speed is $v = \frac{s}{t}$.`` A dollar sign opens a formula when a character other than a space
follows it, and closes one when a character other than a space stands before it and no digit follows; so
"from $5 to $6" stays money. ``\$`` is always a plain dollar sign. A formula stays on one line.

The subset of TeX is that of matplotlib's mathtext. What it cannot draw is shown as it was typed.
Matplotlib is imported only when something has to be drawn: it costs most of a second.
"""

from __future__ import annotations

import io
import re
import threading
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

LONGEST_FORMULA = 300
"""Characters. Longer ones are not school mathematics, and drawing takes time that grows with length."""

_DEEPEST = 12
_WIDEST_PT = 1500.0
_SIZE_PT = 22.0
_DPI = 150
_MARGIN_PT = 18.0
# Telegram refuses pictures more than 20 times as wide as high, and chats blow tiny ones up.
_SMALLEST_PT = (290.0, 86.0)
_WIDEST_RATIO = 6.0


@dataclass(frozen=True, slots=True)
class TextRun:
    """A run of ordinary text, or the inside of one pair of dollar signs."""

    text: str
    is_formula: bool = False


@dataclass(frozen=True, slots=True)
class Readable:
    """A formula as a line of Unicode; `faithful` if a picture would not say more."""

    text: str
    faithful: bool


@dataclass(frozen=True, slots=True)
class Shown:
    """A text ready to be shown: formulas made readable, and those worth a picture."""

    text: str
    to_draw: tuple[str, ...] = ()


# ---------------------------------------------------------------- finding them

_DOLLARS = re.compile(r"\\\$|(?P<d>\$\$?)(?P<inside>[^\s$](?:[^$\n]*?[^\s$\\])??)(?P=d)(?!\d)")


def pieces(text: str) -> tuple[TextRun, ...]:
    r"""Split `text` into ordinary runs and formulas.

    Parameters
    ----------
    text : str
        Any text.

    Returns
    -------
    tuple of TextRun
        In order; ordinary runs have ``\$`` already turned into ``$``. Empty runs are left out.

    Examples
    --------
    >>> [p.text for p in pieces("so $x^2$ is") if p.is_formula]
    ['x^2']
    >>> pieces("from $5 to $6")
    (TextRun(text='from $5 to $6', is_formula=False),)
    """
    found: list[TextRun] = []
    plain: list[str] = []
    at = 0
    for match in _DOLLARS.finditer(text):
        plain.append(text[at : match.start()])
        at = match.end()
        inside = match["inside"]
        if inside is None or len(inside) > LONGEST_FORMULA:
            plain.append("$" if inside is None else match[0])
            continue
        _close(plain, found)
        found.append(TextRun(inside, is_formula=True))
    plain.append(text[at:])
    _close(plain, found)
    return tuple(found)


def _close(plain: list[str], found: list[TextRun]) -> None:
    run = "".join(plain)
    plain.clear()
    if run:
        found.append(TextRun(run))


def shown(text: str) -> Shown:
    """Make the formulas of `text` readable and name those that deserve a picture.

    Parameters
    ----------
    text : str
        Any text, with or without formulas.

    Returns
    -------
    Shown
        A formula that cannot be drawn and has no faithful line of Unicode stays as it was typed,
        dollar signs included.
    """
    words: list[str] = []
    to_draw: list[str] = []
    for piece in pieces(text):
        if not piece.is_formula:
            words.append(piece.text)
            continue
        line = readable(piece.text)
        if line.faithful:
            words.append(line.text)
        elif can_draw(piece.text):
            words.append(line.text)
            to_draw.append(piece.text)
        else:
            words.append(f"${piece.text}$")
    return Shown("".join(words), tuple(to_draw))


def undrawable(text: str) -> tuple[str, ...]:
    """Return the formulas of `text` that can only be shown as typed: to be said when they are written."""
    return tuple(
        piece.text
        for piece in pieces(text)
        if piece.is_formula and not readable(piece.text).faithful and not can_draw(piece.text)
    )


# ---------------------------------------------------------------- as a line of Unicode

_TABLE = """
alpha α  beta β  gamma γ  delta δ  epsilon ε  zeta ζ  eta η  theta θ  iota ι  kappa κ  lambda λ  mu μ  nu ν
xi ξ  pi π  rho ρ  sigma σ  tau τ  upsilon υ  phi φ  chi χ  psi ψ  omega ω  Gamma Γ  Delta Δ  Theta Θ
Lambda Λ  Xi Ξ  Pi Π  Sigma Σ  Phi Φ  Psi Ψ  Omega Ω  varphi φ  varepsilon ε  vartheta ϑ  ell ℓ  hbar ℏ
angle ∠  circ °  degree °  prime ′  cdot ·  times ×  div ÷  pm ±  mp ∓  ast ∗  star ⋆  bullet •  leq ≤  le ≤
geq ≥  ge ≥  neq ≠  ne ≠  approx ≈  sim ∼  simeq ≃  equiv ≡  propto ∝  ll ≪  gg ≫  to →  rightarrow →
leftarrow ←  leftrightarrow ↔  Rightarrow ⇒  Leftarrow ⇐  Leftrightarrow ⇔  mapsto ↦  uparrow ↑  downarrow ↓
in ∈  notin ∉  subset ⊂  subseteq ⊆  cup ∪  cap ∩  emptyset ∅  forall ∀  exists ∃  neg ¬  infty ∞  partial ∂
nabla ∇  sum ∑  prod ∏  int ∫  oint ∮  perp ⊥  parallel ∥  ldots …  dots …  cdots …  wedge ∧  vee ∨  oplus ⊕
otimes ⊗  therefore ∴  because ∵
"""
_SYMBOLS: dict[str, str] = {
    **dict(re.findall(r"(\w+) (\S)", _TABLE)),
    **dict(zip("{}%$#_&|", "{}%$#_&‖", strict=True)),
    **dict.fromkeys((",", ":", ";", " ", "quad", "qquad"), " "),
    "!": "",
}
_NAMES = frozenset(
    re.findall(
        r"\w+", "sin cos tan cot sec csc arcsin arccos arctan sinh cosh tanh ln log exp lim min max det gcd"
    )
)
_WORDS = {"mathrm", "text", "mathit", "mathbf", "mathsf", "operatorname", "rm"}
_BIG = {"sum", "prod", "int", "oint", "lim"}
_ACCENTS = {
    "vec": "\u20d7",
    "hat": "\u0302",
    "bar": "\u0304",
    "dot": "\u0307",
    "ddot": "\u0308",
    "tilde": "\u0303",
}
_FRACTIONS = frozenset({"frac", "dfrac", "tfrac"})
_VULGAR = {"1/2": "½", "1/3": "⅓", "2/3": "⅔", "1/4": "¼", "3/4": "¾"}
_ROOTS = {"": "√", "3": "∛", "4": "∜"}
_RAISED = dict(
    zip(
        "0123456789+−-=()abcdefghijklmnoprstuvwxyz ",
        "⁰¹²³⁴⁵⁶⁷⁸⁹⁺⁻⁻⁼⁽⁾ᵃᵇᶜᵈᵉᶠᵍʰⁱʲᵏˡᵐⁿᵒᵖʳˢᵗᵘᵛʷˣʸᶻ ",
        strict=True,
    )
)
_LOWERED = dict(zip("0123456789+−-=()aehijklmnoprstuvx ", "₀₁₂₃₄₅₆₇₈₉₊₋₋₌₍₎ₐₑₕᵢⱼₖₗₘₙₒₚᵣₛₜᵤᵥₓ ", strict=True))
_SIGN = re.compile(r"\\(?:[A-Za-z]+|.)|\s+|.", re.DOTALL)
# What may stand below a fraction line, under a root or in a raised place without brackets; above a
# fraction line a product needs none either: km/h, 2a/b.
_ONE_THING = re.compile(r"\d+(?:[.,]\d+)?[%°]?|[^\W\d_][\u0302-\u0308\u20d7]?[′₀-₉ᵢⱼₙ⁰-⁹²³ⁿ]*|\([^()]*\)|")
_PRODUCT = re.compile(r"(?:[^\W_]|[\u0302-\u0308\u20d7′₀-₉ᵢⱼₙ⁰-⁹²³ⁿ.,])+")


def readable(formula: str) -> Readable:
    r"""Write a formula as one line of Unicode.

    Parameters
    ----------
    formula : str
        The inside of a pair of dollar signs.

    Returns
    -------
    Readable
        `faithful` is False when the line has lost something, as with a fraction of sums, and when the
        formula holds something unknown.

    Examples
    --------
    >>> readable(r"E = m c^2").text
    'E = m c²'
    >>> readable(r"\frac{a + b}{2}")
    Readable(text='(a + b)/2', faithful=False)
    """
    reader = _FormulaRenderer(_SIGN.findall(formula))
    text = reader.until(None)
    # Spaces of TeX mean nothing; one between words is what a reader expects.
    return Readable(re.sub(r" {2,}", " ", text).strip(), reader.faithful)


class _FormulaRenderer:
    """Walks over the signs of one formula. Depth is bounded, so that no text can exhaust the stack."""

    def __init__(self, signs: list[str]) -> None:
        self._signs = signs
        self._at = 0
        self._depth = 0
        self.faithful = True

    def _next(self) -> str | None:
        if self._at >= len(self._signs):
            return None
        self._at += 1
        return self._signs[self._at - 1]

    def _peek(self) -> str | None:
        return self._signs[self._at] if self._at < len(self._signs) else None

    def until(self, end: str | None) -> str:
        """Read atoms up to `end`."""
        words: list[str] = []
        fractions: list[int] = []
        while (sign := self._next()) is not None and sign != end:
            if sign.startswith("\\") and sign[1:] in _FRACTIONS:
                fractions.append(len(words))
            words.append(self._atom(sign))
        if sign is None and end is not None:
            self.faithful = False
        for place in fractions:
            words[place] = self._beside(words, place)
        return "".join(words)

    def _beside(self, words: list[str], place: int) -> str:
        """Return a fraction so that what stands beside it cannot be read into it: ½mv², (a/b)c, 2½, 2 3/7."""
        fraction = words[place]
        before = "".join(words[:place]).rstrip()[-1:]
        after = "".join(words[place + 1 :]).lstrip()[:1]
        runs_on = fraction[:1].isdigit() and (before.isalnum() or before == ")")
        if not (runs_on or after.isalnum() or (after and after in "(√∛∜")):
            return fraction
        if fraction in _VULGAR:
            return _VULGAR[fraction]
        if runs_on and before.isdigit() and not after:
            self.faithful = False  # a whole number and a fraction, or a product: only a picture tells
            return f" {fraction}"
        return f"({fraction})"

    def _atom(self, sign: str) -> str:
        if sign == "{":
            return self._group()
        if sign in "^_" and len(sign) == 1:
            return self._script(sign)
        if sign == "}":
            self.faithful = False
            return sign
        if sign.isspace():
            return " "
        if sign.startswith("\\") and len(sign) > 1:
            return self._command(sign[1:])
        return "−" if sign == "-" else "′" if sign == "'" else sign

    def _group(self) -> str:
        self._depth += 1
        if self._depth > _DEEPEST:
            self.faithful = False
            self._at = len(self._signs)
            return "…"
        text = self.until("}")
        self._depth -= 1
        return text

    def _argument(self) -> str:
        while (peeked := self._peek()) is not None and peeked.isspace():
            self._next()
        sign = self._next()
        if sign is None:
            self.faithful = False
            return ""
        if sign != "{" and sign.startswith("\\") and sign[1:] in (*_FRACTIONS, "sqrt"):
            self.faithful = False  # without braces this is an error in TeX as well
            return sign
        return self._atom(sign)

    def _script(self, mark: str) -> str:
        inside = self._argument().strip()
        table = _RAISED if mark == "^" else _LOWERED
        if inside in ("°", "′"):
            return inside
        if inside and all(character in table for character in inside):
            return "".join(table[character] for character in inside)
        self.faithful = False
        return f"{mark}{_bracketed(inside)}"

    def _command(self, name: str) -> str:
        if name in _FRACTIONS:
            return self._fraction()
        if name == "sqrt":
            return self._root()
        if name in ("left", "right"):
            return self._bracket()
        if name in _WORDS:
            return self._argument()
        if name in _ACCENTS:
            return self._accent(name)
        return self._symbol(name)

    def _symbol(self, name: str) -> str:
        if name in _BIG and self._peek() in ("_", "^"):
            self.faithful = False  # limits belong above and below, not behind
        if name in _NAMES:
            follower = self._peek() or ""
            return name if follower in ("", "_", "^", "(", " ") else f"{name} "
        if name in _SYMBOLS:
            return _SYMBOLS[name]
        self.faithful = False
        return name

    def _fraction(self) -> str:
        above, below = self._argument().strip(), self._argument().strip()
        line_above = above if _PRODUCT.fullmatch(above) else _bracketed(above)
        line_below = _bracketed(below)
        self.faithful = self.faithful and (line_above, line_below) == (above, below)
        return f"{line_above}/{line_below}"

    def _root(self) -> str:
        degree = ""
        if self._peek() == "[":
            self._next()
            degree = self.until("]")
        inside = self._argument().strip()
        root = _ROOTS.get(degree)
        if root is None:
            self.faithful = False
            root = f"({degree})√"
        return root + _bracketed(inside)

    def _bracket(self) -> str:
        sign = self._next()
        if sign is None or sign == ".":
            return ""
        return self._atom(sign) if sign.startswith("\\") else sign

    def _accent(self, name: str) -> str:
        inside = self._argument().strip()
        if len(inside) == 1:
            return inside + _ACCENTS[name]
        self.faithful = False
        return f"{name}({inside})"


def _bracketed(text: str) -> str:
    return text if _ONE_THING.fullmatch(text) else f"({text})"


# ---------------------------------------------------------------- as a picture

# Matplotlib's fonts and its parser are shared state, and pictures are drawn in threads.
_drawing = threading.Lock()
_KNOWN = re.compile("[\u0020-\u007e\u00a0-\u024f\u0370-\u03ff−·×÷±≤≥≠≈→←↔⇒∞√∑∫°′″]*")


def can_draw(formula: str) -> bool:
    """Whether a picture can be made of `formula`. The same question twice is answered from memory."""
    with _drawing:
        return _box(formula) is not None


def picture(formulas: Sequence[str]) -> bytes | None:
    """Draw formulas below each other, black on white, as PNG.

    Parameters
    ----------
    formulas : sequence of str
        Insides of pairs of dollar signs.

    Returns
    -------
    bytes or None
        None if there is nothing to draw or one of them cannot be drawn.
    """
    if not formulas:
        return None
    with _drawing:
        return _picture(tuple(formulas))


@lru_cache(maxsize=1)
def _parser() -> Any:
    from matplotlib.mathtext import MathTextParser

    return MathTextParser("path")


@lru_cache(maxsize=512)
def _box(formula: str) -> tuple[float, float, float] | None:
    """Width, height and depth [pt], or None for what cannot be drawn."""
    # A character without a glyph would become a dummy box, and a wide space a picture of any size.
    if len(formula) > LONGEST_FORMULA or not _KNOWN.fullmatch(formula) or formula.count("{") > 60:
        return None
    try:
        width, height, depth = _parser().parse(f"${formula}$", 72, _font())[:3]
    except (ValueError, RecursionError):
        return None
    if not 0 < width <= _WIDEST_PT or not 0 < height <= _WIDEST_PT:
        return None
    return float(width), float(height), float(depth)


def _font() -> Any:
    from matplotlib.font_manager import FontProperties

    return FontProperties(size=_SIZE_PT, math_fontfamily="stix")


@lru_cache(maxsize=64)
def _picture(formulas: tuple[str, ...]) -> bytes | None:
    boxes = [box for box in map(_box, formulas) if box is not None]
    if len(boxes) < len(formulas):
        return None
    inside = sum(height for _, height, _ in boxes) + _MARGIN_PT * (len(boxes) - 1)
    width = max(_SMALLEST_PT[0], max(box[0] for box in boxes) + 2 * _MARGIN_PT)
    height = max(_SMALLEST_PT[1], inside + 2 * _MARGIN_PT, width / _WIDEST_RATIO)
    return _render(formulas, boxes, width, height, top=height - (height - inside) / 2)


def _render(
    formulas: tuple[str, ...],
    boxes: list[tuple[float, float, float]],
    width: float,
    height: float,
    top: float,
) -> bytes:
    from matplotlib.figure import Figure

    figure = Figure(figsize=(width / 72, height / 72), dpi=_DPI)
    for formula, (box_width, box_height, box_depth) in zip(formulas, boxes, strict=True):
        baseline = top - (box_height - box_depth)
        left = (width - box_width) / 2
        figure.text(left / width, baseline / height, f"${formula}$", fontproperties=_font(), va="baseline")
        top -= box_height + _MARGIN_PT
    out = io.BytesIO()
    figure.savefig(out, format="png", facecolor="white")
    return out.getvalue()
