"""Formulas over drawn values: read by the grader's own parser, evaluated here, never by `eval`.

Beside what the parser knows there are ``°`` (a factor π/180: ``sin({α}°)``, ``asin({a}/{c})/°``) and functions of
several arguments (``gcd({a}; {b})``, ``round({s}/{t}; 1)``): arguments are parted by ";" or by a comma with a
blank. A name may stand in braces or bare: ``{s}/{t}`` is ``s/t``.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from bot.grading import formulas
from bot.grading.drawn import exact
from bot.grading.drawn.errors import Undefined, Unread, quoted
from bot.grading.drawn.exact import Value
from bot.grading.formulas import Call, Custom, FormulaError, Name, Node, Number, Operation

MAX_CHARS = 200
MAX_NODES = 120
MAX_CALLS = 12

DEGREE = "deg"
CONSTANTS: Mapping[str, float] = {"π": math.pi, "e": math.e, DEGREE: math.pi / 180}

_SEVERAL = re.compile(rf"(?<![^\W\d_])({'|'.join(exact.SEVERAL)}) ?\(")
_ARGUMENTS_END = re.compile(r";|,(?=\s)|,(?!\d)")
# Stands for a call in the text that the parser sees; no teacher types it.
_MARK = "ƒ"


@dataclass(frozen=True, slots=True)
class Several:
    """A function of several arguments."""

    function: str
    arguments: tuple[Expression, ...]


@dataclass(frozen=True, slots=True)
class Expression:
    """A formula over drawn values, and what its marks stand for."""

    source: str
    tree: Node
    names: frozenset[str]
    calls: Mapping[str, Several] = field(default_factory=dict)
    size: int = 0


def read(text: str, names: Iterable[str] = ()) -> Expression:
    """Read a formula over drawn values.

    Parameters
    ----------
    text : str
        At most 200 characters.
    names : iterable of str
        The values that may be used.

    Returns
    -------
    Expression

    Raises
    ------
    Unread
        ``formula`` when it cannot be read, ``unknown_name``, ``slash_unclear``, ``too_big``.

    Examples
    --------
    >>> read("{s}/{t}", ["s", "t"]).names == {"s", "t"}
    True
    """
    return _read(text, frozenset(names), depth=0)


def _read(text: str, names: frozenset[str], depth: int) -> Expression:
    if len(text) > MAX_CHARS:
        raise Unread("too_big", found=quoted(text))
    if depth > 4:
        raise Unread("formula", found=quoted(text), why="deep")
    body, calls = _with_marks(text.replace("°", f" {DEGREE} "), names, depth)
    known = {*names, *calls, DEGREE}
    tree, strict = (_parse(body, known, slash, text) for slash in (Custom(), Custom("left")))
    if tree.tree != strict.tree:
        raise Unread("slash_unclear", found=quoted(text))
    if tree.subject is not None:
        raise Unread("formula", found=quoted(text), why="equals_here")
    unknown = sorted(tree.names - known - set(CONSTANTS))
    if unknown:
        raise Unread("unknown_name", name=unknown[0], found=quoted(text))
    size = _size(tree.tree) + sum(argument.size for call in calls.values() for argument in call.arguments)
    if size > MAX_NODES:
        raise Unread("too_big", found=quoted(text))
    used = {name for call in calls.values() for argument in call.arguments for name in argument.names}
    return Expression(text, tree.tree, frozenset((tree.names & names) | used), calls, size)


def _parse(body: str, known: set[str], custom: Custom, text: str) -> formulas.Formula:
    try:
        return formulas.read(body, known, custom)
    except FormulaError as error:
        raise Unread("formula", found=quoted(text), why=error.code, sign=error.sign) from None


def _size(tree: Node) -> int:
    count, waiting = 0, [tree]
    while waiting:
        node = waiting.pop()
        count += 1
        if isinstance(node, Operation):
            waiting += [node.left, node.right]
        elif isinstance(node, Call):
            waiting.append(node.argument)
    return count


# --- functions of several arguments -----------------------------------------------------------------------


def _with_marks(text: str, names: frozenset[str], depth: int) -> tuple[str, dict[str, Several]]:
    """Replace every call of a function of several arguments by a mark."""
    calls: dict[str, Several] = {}
    while match := _SEVERAL.search(text):
        end = _closing(text, match.end() - 1)
        if end is None or len(calls) >= MAX_CALLS:
            raise Unread("formula", found=quoted(text), why="open_or_many")
        arguments = tuple(
            _read(part, names, depth + 1) for part in _parts(text[match.end() : end]) if part.strip()
        )
        _, least, most = exact.SEVERAL[match[1]]
        if not least <= len(arguments) <= most:
            raise Unread("formula", found=quoted(text), why="values", name=match[1], least=least, most=most)
        mark = _MARK + chr(ord("a") + len(calls))
        calls[mark] = Several(match[1], arguments)
        text = f"{text[: match.start()]} ({mark}) {text[end + 1 :]}"
    return text, calls


def _closing(text: str, opening: int) -> int | None:
    depth = 0
    for place in range(opening, len(text)):
        depth += {"(": 1, ")": -1}.get(text[place], 0)
        if depth == 0:
            return place
    return None


def _parts(text: str) -> list[str]:
    """Part arguments at the separators that stand in no bracket."""
    parts, start, depth = [], 0, 0
    for place, sign in enumerate(text):
        depth += {"(": 1, ")": -1}.get(sign, 0)
        if depth == 0 and sign in ";," and _ARGUMENTS_END.match(text, place):
            parts.append(text[start:place])
            start = place + 1
    return [*parts, text[start:]]


# --- evaluating -------------------------------------------------------------------------------------------


def evaluate(expression: Expression, values: Mapping[str, Value | str]) -> Value:
    """Return the value of a formula: a fraction where it is exact, else a float.

    Raises
    ------
    Undefined
        When it has no usable value.

    Examples
    --------
    >>> from fractions import Fraction
    >>> evaluate(read("s/t", "st"), {"s": Fraction(20), "t": Fraction(8)})
    Fraction(5, 2)
    """
    return _value(expression.tree, values, expression.calls)


def _value(node: Node, values: Mapping[str, Value | str], calls: Mapping[str, Several]) -> Value:
    if isinstance(node, Number):
        return exact.bounded(exact.from_float(node.value))
    if isinstance(node, Name):
        return _named(node.name, values, calls)
    if isinstance(node, Call):
        return exact.apply(node.function, _value(node.argument, values, calls))
    return exact.combine(node.sign, _value(node.left, values, calls), _value(node.right, values, calls))


def _named(name: str, values: Mapping[str, Value | str], calls: Mapping[str, Several]) -> Value:
    if name in calls:
        function, _, _ = exact.SEVERAL[calls[name].function]
        arguments = [evaluate(argument, values) for argument in calls[name].arguments]
        return exact.bounded(function(*arguments))
    if name in values:
        value = values[name]
        if isinstance(value, str):
            raise Undefined("word_in_formula", name=name)
        return value
    return CONSTANTS[name]
