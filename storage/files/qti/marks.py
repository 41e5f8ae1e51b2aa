"""The elements of QTI under one set of names, whatever the version, and their text.

QTI 3.0 writes ``qti-choice-interaction`` and ``max-choices``, QTI 2.x ``choiceInteraction`` and ``maxChoices``. Here
the names of 2.x stand for both. Imported only by the limited child process.

References
----------
1EdTech, Question and Test Interoperability (QTI) 3.0, Assessment, Section and Item Information Model, final 2022; and
Version 2.2.4, 2021; Version 2.1.1, 2012: names of elements and attributes.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from xml.etree.ElementTree import Element

from storage.files.reading.raised import Place, placed

GAP = "___"
"""What stands in a text where something is to be filled in."""

_BLOCKS = frozenset(
    ["p", "div", "li", "tr", "h1", "h2", "h3", "h4", "h5", "h6", "blockquote", "prompt", "pre", "dd", "dt"]
)
_PLACES: dict[str, Place] = {"sup": "raised", "sub": "lowered"}
_PICTURES = frozenset(["img", "object", "audio", "video", "picture", "svg", "iframe"])
_NOT_ASKED = frozenset(
    ["feedbackInline", "feedbackBlock", "modalFeedback", "rubricBlock", "stylesheet", "templateInline", "templateBlock",
     "infoControl", "catalogInfo", "companionMaterialsInfo", "script", "style"]
)  # fmt: skip
_CAMEL = re.compile(r"-([a-z0-9])")


class LeftOut(Exception):
    """Something of an item that cannot be represented; `code` is the reason, ``qti.CODE`` its words."""

    def __init__(self, code: str, detail: str = "") -> None:
        super().__init__(code)
        self.code, self.detail = code, detail


@dataclass
class Mark:
    """An element with its name and attributes as in QTI 2.x."""

    name: str
    attributes: dict[str, str] = field(default_factory=dict)
    text: str = ""
    tail: str = ""
    children: list[Mark] = field(default_factory=list)

    def all(self, name: str) -> Iterator[Mark]:
        """Yield the elements of a name at any depth."""
        for one in self.walk():
            if one.name == name:
                yield one

    def walk(self) -> Iterator[Mark]:
        """Yield the element and everything in it."""
        yield self
        for child in self.children:
            yield from child.walk()

    def first(self, name: str) -> Mark | None:
        """Return the first element of a name at any depth."""
        return next(self.all(name), None)

    def child(self, name: str) -> Mark | None:
        """Return the first child of a name."""
        return next((one for one in self.children if one.name == name), None)


def mark_of(element: Element) -> Mark:
    """Bring an element to the names of QTI 2.x."""
    local = element.tag.rsplit("}", 1)[-1] if isinstance(element.tag, str) else ""
    name = _camel(local.removeprefix("qti-")) if local.startswith("qti-") else local
    attributes = {_camel(key.rsplit("}", 1)[-1]): value for key, value in element.attrib.items()}
    children = [mark_of(child) for child in element]
    return Mark(name, attributes, element.text or "", element.tail or "", children)


def _camel(name: str) -> str:
    return _CAMEL.sub(lambda found: found[1].upper(), name)


def text_of(mark: Mark) -> str:
    """Return the text of an element as it is shown: lines, raised and lowered letters, formulas in a line.

    Raises
    ------
    LeftOut
        If a picture, a sound or a formula that cannot stand in a line belongs to it.
    """
    lines = (" ".join(line.split()) for line in _inner(mark).split("\n"))
    return "\n".join(line for line in lines if line)


def _inner(mark: Mark) -> str:
    pieces = [_flat(mark.text)]
    for child in mark.children:
        pieces.append(_shown(child, "".join(pieces)))
        pieces.append(_flat(child.tail))
    return "".join(pieces)


def _flat(text: str) -> str:
    return " ".join(text.split("\n"))


def _shown(mark: Mark, before: str) -> str:
    if mark.name in _NOT_ASKED:
        return ""
    if mark.attributes.get("class") == "unit":
        return ""
    if mark.name in _PICTURES:
        raise LeftOut("picture", mark.name)
    if mark.name == "math":
        return formula(mark)
    if mark.name == "br":
        return "\n"
    if mark.name == "printedVariable":
        return "{" + mark.attributes.get("identifier", "") + "}"
    if mark.name.endswith("Interaction"):
        return f" {GAP} " if mark.name in ("textEntryInteraction", "inlineChoiceInteraction") else "\n"
    inner = _inner(mark)
    if mark.name in _PLACES:
        return placed(inner, _PLACES[mark.name], before)
    return f"\n{inner}\n" if mark.name in _BLOCKS else inner


def formula(mark: Mark) -> str:
    """Write MathML in a line: fractions with brackets, powers with ^.

    References
    ----------
    W3C, Mathematical Markup Language (MathML) 3.0, 2014, chapter 3 (presentation markup).
    """
    inner = [formula(child) for child in mark.children]
    match mark.name:
        case "mi" | "mn" | "mo" | "mtext":
            return mark.text.strip()
        case "mfrac" if len(inner) == 2:
            return f"{_bracketed(inner[0])}/{_bracketed(inner[1])}"
        case "msup" if len(inner) == 2:
            return f"{_bracketed(inner[0])}^{_bracketed(inner[1])}"
        case "msub" if len(inner) == 2:
            return f"{inner[0]}_{_bracketed(inner[1])}"
        case "msqrt":
            return f"√({''.join(inner)})"
        case "math" | "mrow" | "mstyle" | "mfenced" | "semantics" | "mpadded":
            between = "".join(inner) if mark.name != "semantics" else next(iter(inner), "")
            return f"({between})" if mark.name == "mfenced" else between
        case "annotation" | "mspace":
            return ""
        case _:
            raise LeftOut("formula", mark.name)


def _bracketed(text: str) -> str:
    return text if re.fullmatch(r"[\w.,]+", text) else f"({text})"
