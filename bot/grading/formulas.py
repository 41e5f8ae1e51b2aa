r"""Reading a formula: a small parser of our own, no eval, to a tree that can only be evaluated numerically.

Grammar (blanks mean nothing)::

    sum     := ["+" | "-"] term { ("+" | "-") term }
    term    := run { ("·" | "/" | ":") run }
    run     := power { power }                       implied multiplication: 2ab, 3(x+1), m g h
    power   := atom [ "^" ["+" | "-"] power ]        right to left
    atom    := number | name | "(" sum ")" | "|" sum "|" | "√" power | function argument

Limits: 200 characters, 40 levels, numbers of 40 digits; values are floats, so nothing can grow. What is written
ambiguously is parsed under named customs (:class:`Custom`), and whoever compares tries each: ``1/2x`` as (1/2)x
or 1/(2x), ``log`` to base ten or natural. ``1/2 x`` with a blank, and ``½x``, are (1/2)x for most people.

LaTeX and dollar signs are read, too (:mod:`bot.grading.latex`): ``$\frac{1}{2}mv^2$``.

A name is one letter of the Latin or Greek alphabet with an index (``v_0``, ``v0``, ``E_kin``), or a Greek letter's
English name. ``pi`` and ``e`` are constants.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Literal

from bot.grading.formulatokens import SAME_LETTER, FormulaError, Token, tokens
from bot.grading.latex import plain_formula
from bot.grading.signs import is_too_long, plain, ready_fractions

__all__ = ["Call", "Custom", "Formula", "FormulaError", "Name", "Node", "Number", "Operation", "read"]

MAX_DEPTH = 40
MAX_PLAIN_CHARS = 400

_CLOSING = {"(": ")", "[": "]", "{": "}"}


@dataclass(frozen=True, slots=True)
class Number:
    """A number of the formula."""

    value: float


@dataclass(frozen=True, slots=True)
class Name:
    """A quantity."""

    name: str


@dataclass(frozen=True, slots=True)
class Operation:
    """Plus, minus, times, over, power: two operands."""

    sign: Literal["+", "-", "*", "/", "^"]
    left: Node
    right: Node


@dataclass(frozen=True, slots=True)
class Call:
    """A function of one argument."""

    function: str
    argument: Node


Node = Number | Name | Operation | Call


Slash = Literal["blank", "run", "left"]


@dataclass(frozen=True, slots=True)
class Custom:
    """How to read what is written ambiguously.

    Attributes
    ----------
    slash : {"blank", "run", "left"}
        What stands under a slash. "run": everything up to the next sign, 1/2x is 1/(2x). "left": one factor,
        1/2x is (1/2)x. "blank": as "run", but a blank after a fraction of two numbers ends it.
    natural_log : bool
        True reads log as the natural logarithm, False as that to base ten.
    """

    slash: Slash = "blank"
    natural_log: bool = False


@dataclass(frozen=True, slots=True)
class Formula:
    """A formula read: an optional subject (the F of ``F = m a``) and the tree of the right side."""

    tree: Node
    subject: str | None = None
    names: frozenset[str] = field(default_factory=frozenset)


def read(text: str, known: Iterable[str] = (), custom: Custom = Custom()) -> Formula:
    """Read a formula.

    Parameters
    ----------
    text : str
        At most 200 characters.
    known : iterable of str
        Names that the question's own formula uses: read first, so that ``Ekin`` is one name.
    custom : Custom

    Returns
    -------
    Formula

    Raises
    ------
    FormulaError
        When it cannot be read; says why.

    Examples
    --------
    >>> sorted(read("E_kin = 1/2 m v²").names), read("E_kin = 1/2 m v²").subject
    (['m', 'v'], 'Ekin')
    """
    body = "" if is_too_long(text) else plain(_bracketed_fractions(plain_formula(text)))
    if is_too_long(text) or len(body) > MAX_PLAIN_CHARS:
        raise FormulaError("long")
    body = body.translate(SAME_LETTER).strip(" .;")
    left, equals, right = body.partition("=")
    if "=" in right:
        raise FormulaError("equals")
    subject = _subject(left, known) if equals else None
    tree = _FormulaParser(tokens(right if equals else left, known), custom).whole()
    return Formula(tree, subject, frozenset(_names(tree)))


def _bracketed_fractions(text: str) -> str:
    return "".join(f"({ready_fractions(sign)})" if ready_fractions(sign) != sign else sign for sign in text)


def _subject(left: str, known: Iterable[str]) -> str:
    tree = _FormulaParser(tokens(left, known), Custom()).whole()
    if not isinstance(tree, Name):
        raise FormulaError("left_side")
    return tree.name


def _names(tree: Node) -> set[str]:
    found: set[str] = set()
    waiting: list[Node] = [tree]
    while waiting:
        node = waiting.pop()
        if isinstance(node, Name):
            found.add(node.name)
        elif isinstance(node, Operation):
            waiting += [node.left, node.right]
        elif isinstance(node, Call):
            waiting.append(node.argument)
    return found


# --- parser -----------------------------------------------------------------------------------------------


class _FormulaParser:
    """Recursive descent; `depth` bounds every recursion, so hostile nesting ends early."""

    def __init__(self, tokens: list[Token], custom: Custom) -> None:
        self.tokens = tokens
        self.custom = custom
        self.at = 0
        self.depth = 0
        self.bars = 0

    def whole(self) -> Node:
        if self.peek().kind == "end":
            raise FormulaError("nothing")
        tree = self.sum()
        if self.peek().kind != "end":
            raise FormulaError("follows", self.peek().text)
        return tree

    def peek(self) -> Token:
        return self.tokens[self.at]

    def take(self, signs: str) -> str | None:
        token = self.peek()
        if token.kind == "sign" and token.text in signs:
            self.at += 1
            return token.text
        return None

    def deeper(self) -> None:
        self.depth += 1
        if self.depth > MAX_DEPTH:
            raise FormulaError("deep")

    def sum(self) -> Node:
        self.deeper()
        lead = self.take("+-")
        tree = self.term()
        if lead == "-":
            tree = Operation("-", Number(0.0), tree)
        while sign := self.take("+-"):
            tree = Operation("+" if sign == "+" else "-", tree, self.term())
        self.depth -= 1
        return tree

    def term(self) -> Node:
        tree = self.run()
        while True:
            sign = self.take("·/:")
            if sign is None and not self.starts_atom():
                return tree
            self.refuse_two_signs(sign)
            divided = sign in ("/", ":")
            right = self.run(numerator=tree if divided else None)
            tree = Operation("/" if divided else "*", tree, right)

    def refuse_two_signs(self, sign: str | None) -> None:
        if sign and self.peek().text in ("+", "-"):
            raise FormulaError("two_signs", f"{sign}{self.peek().text}")

    def run(self, numerator: Node | None = None) -> Node:
        tree = self.power()
        while self.starts_atom() and not self.ends_run(numerator, tree):
            tree = Operation("*", tree, self.power())
        return tree

    def ends_run(self, numerator: Node | None, tree: Node) -> bool:
        """Whether what follows stands beside the fraction, not under it."""
        if self.custom.slash == "left":
            return True
        is_fraction = isinstance(numerator, Number) and isinstance(tree, Number)
        return self.custom.slash == "blank" and is_fraction and self.peek().after_blank

    def starts_atom(self) -> bool:
        token = self.peek()
        if token.kind in ("number", "name", "function"):
            return True
        return token.kind == "sign" and (token.text in "([{√" or (token.text == "|" and self.bars == 0))

    def power(self) -> Node:
        base = self.atom()
        return self.raised(base) if self.take("^") else base

    def raised(self, base: Node) -> Node:
        self.deeper()
        lead = self.take("+-")
        exponent = self.power()
        if lead == "-":
            exponent = Operation("-", Number(0.0), exponent)
        self.depth -= 1
        return Operation("^", base, exponent)

    def atom(self) -> Node:
        token = self.peek()
        self.at += 1
        if token.kind == "number":
            return Number(token.value)
        if token.kind == "name":
            return Name(token.text)
        if token.kind == "function":
            return self.call(token.text)
        if token.text in _CLOSING:
            return self.inside(_CLOSING[token.text])
        if token.text == "|":
            return self.between_bars()
        if token.text == "√":
            return self.root()
        raise FormulaError("misplaced", token.text) if token.text else FormulaError("ends")

    def inside(self, closing: str) -> Node:
        bars, self.bars = self.bars, 0
        tree = self.sum()
        self.bars = bars
        if self.take(closing) is None:
            raise FormulaError("open", closing)
        return tree

    def between_bars(self) -> Node:
        self.bars += 1
        tree = self.sum()
        self.bars -= 1
        if self.take("|") is None:
            raise FormulaError("open", "|")
        return Call("abs", tree)

    def root(self) -> Node:
        self.deeper()
        argument = self.atom()
        self.depth -= 1
        return Call("sqrt", argument)

    def call(self, function: str) -> Node:
        self.deeper()
        power = self.function_power()
        bracket = self.take("([{")
        argument = self.inside(_CLOSING[bracket]) if bracket else self.bare_argument()
        self.depth -= 1
        if function == "log":
            function = "ln" if self.custom.natural_log else "lg"
        if power == -1.0 and function in ("sin", "cos", "tan"):
            # sin^-1 is the inverse function on every calculator.
            return Call("a" + function, argument)
        tree: Node = Call(function, argument)
        return tree if power is None else Operation("^", tree, Number(power))

    def function_power(self) -> float | None:
        """Read the power in ``sin^2(x)`` and ``sin²x``."""
        if not self.take("^"):
            return None
        bracket = self.take("([{")
        sign = self.take("+-")
        token = self.peek()
        if token.kind != "number":
            raise FormulaError("power")
        self.at += 1
        if bracket and self.take(_CLOSING[bracket]) is None:
            raise FormulaError("open", _CLOSING[bracket])
        return -token.value if sign == "-" else token.value

    def bare_argument(self) -> Node:
        """Read what a function without brackets is applied to: sin 2x is sin(2x), sin x cos y two factors."""
        lead = self.take("-")
        tree = self.power()
        while self.peek().kind in ("number", "name"):
            tree = Operation("*", tree, self.power())
        return Operation("-", Number(0.0), tree) if lead else tree
