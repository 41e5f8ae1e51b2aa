"""What a keyboard makes of a formula: ``mv2``, ``m x a``, ``ma = F``, ``KE = …``, a first letter made large.

Each is read as it is meant beside the formula of the key, whose names are known; nothing here makes two different
values equal.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from itertools import pairwise

from bot.grading.formulas import Call, Formula, Name, Node, Number, Operation
from bot.grading.latex import plain_formula

_CROSS = re.compile(r"(?<=[\w)]) [xX] (?=[\w(])")
_LONG_NAME = re.compile(r"([^\W\d_]+)_?\{?([^\W\d_]*)\}?$")
_RAISED_NAME = re.compile(r"([^\W\d]+)([23])$")


def as_typed(given: str, wanted: Formula, question: str) -> str:
    """Rewrite what stands for something else beside this key: x for times, sides changed, another name.

    Parameters
    ----------
    given : str
    wanted : Formula
        The key.
    question : str
        What was asked: "Kinetic energy?" explains KE and E_kin.
    """
    text = plain_formula(given)
    if not {"x", "X"} & wanted.names:
        text = _CROSS.sub("·", text)
    left, equals, right = (part.strip() for part in text.partition("="))
    if not (equals and wanted.subject) or "=" in right:
        return text
    if right.rstrip(" .!") == wanted.subject and left != wanted.subject:
        left, right = wanted.subject, left
    return f"{wanted.subject if _names_subject(left, wanted.subject, question) else left} = {right}"


def _names_subject(left: str, subject: str, question: str) -> bool:
    """Whether a longer name means the key's quantity: its initials, or its letter with a word of the question."""
    found = _LONG_NAME.fullmatch(left)
    if found is None or left == subject:
        return False
    words = re.findall(r"[^\W\d_]+", question.casefold())
    if left.isupper() and len(left) == 2 and left.endswith(subject):
        return any("".join(pair) == left.casefold() for pair in _initials(words))
    index = left.removeprefix(subject).strip("_{}").casefold() if left.startswith(subject) else ""
    return bool(index) and any(word.startswith(index) for word in words)


def _initials(words: list[str]) -> list[tuple[str, str]]:
    return [(one[0], other[0]) for one, other in pairwise(words)]


def with_names_of(wanted: Formula, own: Formula) -> Formula:
    """Correct the capitals that a phone wrote by itself and powers that it could not, where only one is meant."""
    known = wanted.names | ({wanted.subject} if wanted.subject else set())
    folded: dict[str, list[str]] = {}
    for name in known:
        folded.setdefault(name.casefold(), []).append(name)
    used = own.names | ({own.subject} if own.subject else set())
    mapping: dict[str, Node] = {}
    for name in used - known:
        raised = _RAISED_NAME.match(name)
        base, power = (raised[1], raised[2]) if raised else (name, "")
        meant = folded.get(base.casefold(), [])
        if len(meant) == 1:
            mapping[name] = _power(Name(meant[0]), power)
    if not mapping:
        return own
    subject = mapping.get(own.subject or "")
    names = frozenset(_base(mapping.get(name, Name(name))) for name in own.names)
    return Formula(
        _renamed(own.tree, mapping), subject.name if isinstance(subject, Name) else own.subject, names
    )


def _power(base: Name, power: str) -> Node:
    return Operation("^", base, Number(float(power))) if power else base


def _base(node: Node) -> str:
    found = node.left if isinstance(node, Operation) else node
    assert isinstance(found, Name)  # noqa: S101 - only names and their powers are put in
    return found.name


def _renamed(node: Node, mapping: Mapping[str, Node]) -> Node:
    if isinstance(node, Name):
        return mapping.get(node.name, node)
    if isinstance(node, Operation):
        return Operation(node.sign, _renamed(node.left, mapping), _renamed(node.right, mapping))
    if isinstance(node, Call):
        return Call(node.function, _renamed(node.argument, mapping))
    return node
