"""Items and packages of QTI as plain values, or why an item cannot be represented. Imported only by the limited child.

Read are the interactions choice, inline choice, hot text (one right answer), text entry, extended text with a right
answer, and slider, with their feedback and, where values are drawn, their template processing. Everything else of the
standard is named with its title.

References
----------
1EdTech, QTI 3.0 (2022), 2.2 (2021) and 2.1 (2012): items, response declarations, mapping, feedback; Content Packaging
1.2 (2007): imsmanifest.xml.
"""

from __future__ import annotations

import io
import posixpath
import zipfile
from collections.abc import Iterator
from dataclasses import asdict, dataclass, field
from typing import Any
from urllib.parse import unquote

from defusedxml.ElementTree import fromstring

from storage.files.problem import problem
from storage.files.qti.drawn import Draws, draws_of
from storage.files.qti.marks import GAP, LeftOut, Mark, mark_of, text_of
from storage.files.reading import limits
from storage.files.reading.archive import xml_parts
from storage.files.reading.sheet import FileRefused

MANIFEST = "imsmanifest.xml"
_SOLUTIONS = frozenset(["solution", "correct", "general", "explanation", "feedback", "show"])
_NUMBERS = frozenset(["float", "integer"])


@dataclass
class Item:
    """A question of a package, or the reason why it is left out.

    Attributes
    ----------
    title, section : str
        How it is called, and the part of the test that it belongs to.
    kind : str
        ``choice``, ``number``, ``text``, ``formula``, or ``string``: a text that may be a number or a formula.
    answer, wrong, alternatives, why : str and lists of str
        As in a question sheet; `why` belongs to `wrong`.
    right_place : int
        Place of the right option among all.
    tolerance : list of (float, bool)
        Amount, and whether it is a share; empty for none.
    unit : str
        Of a number, where it stands behind the gap.
    values, where : str
        What is drawn.
    left_out, detail : str
        The code of the reason, and what it is about; empty where the item was read.
    """

    title: str = ""
    section: str = ""
    prompt: str = ""
    kind: str = ""
    answer: str = ""
    wrong: list[str] = field(default_factory=list)
    alternatives: list[str] = field(default_factory=list)
    why: list[str] = field(default_factory=list)
    explanation: str = ""
    right_place: int = 0
    tolerance: list[tuple[float, bool]] = field(default_factory=list)
    unit: str = ""
    values: str = ""
    where: str = ""
    left_out: str = ""
    detail: str = ""


def read_items(data: bytes, name: str) -> dict[str, Any]:
    """Read an item or a package.

    Parameters
    ----------
    data : bytes
        An XML file with one item, or an archive with a manifest.
    name : str
        Its name, for messages only.

    Returns
    -------
    dict
        ``items`` with the values of each `Item`, in the order of the manifest.

    Raises
    ------
    FileRefused
        If it declares entities, is damaged, or holds no item.
    """
    if data.startswith(b"PK"):
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            parts = dict(xml_parts(archive, name))
        items = list(_packaged(parts))
    else:
        items = [_item(mark_of(fromstring(data)))]
    if not items:
        raise FileRefused(problem("qti_empty", name=name))
    if len(items) > limits.ROWS:
        raise FileRefused(problem("rows_many", name=name, limit=limits.ROWS))
    return {"items": [asdict(one) for one in items]}


def _packaged(parts: dict[str, bytes]) -> Iterator[Item]:
    """Yield the items of a package, each with the section of the test that names it."""
    folder = posixpath.dirname(next(one for one in sorted(parts, key=len) if one.endswith(MANIFEST)))
    manifest = mark_of(fromstring(parts[posixpath.join(folder, MANIFEST)]))
    resources = [one for one in manifest.all("resource") if "qti" in one.attributes.get("type", "").lower()]
    sections: dict[str, str] = {}
    for one in resources:
        if "test" in one.attributes["type"].lower() or "assessment_x" in one.attributes["type"].lower():
            sections |= _sections(parts, posixpath.join(folder, _path(one)))
    for one in resources:
        if "item" not in one.attributes["type"].lower():
            continue
        path = posixpath.normpath(posixpath.join(folder, _path(one)))
        if path not in parts:
            yield Item(one.attributes.get("identifier", path), left_out="missing", detail=path)
            continue
        found = _item(mark_of(fromstring(parts[path])))
        found.section = sections.get(path, "")
        yield found


def _path(resource: Mark) -> str:
    return unquote(resource.attributes.get("href", ""))


def _sections(parts: dict[str, bytes], path: str) -> dict[str, str]:
    """Return the title of the section for the path of every item that a test names."""
    found: dict[str, str] = {}
    if posixpath.normpath(path) not in parts:
        return found
    test = mark_of(fromstring(parts[posixpath.normpath(path)]))
    for section in test.all("assessmentSection"):
        for one in section.all("assessmentItemRef"):
            target = posixpath.normpath(posixpath.join(posixpath.dirname(path), _path(one)))
            found[target] = section.attributes.get("title", "")
    return found


# ---------------------------------------------------------------- one item


def _item(item: Mark) -> Item:
    title = item.attributes.get("title") or item.attributes.get("identifier", "")
    if item.name != "assessmentItem":
        return Item(title, left_out="no_item", detail=item.name)
    try:
        return _read(item, title)
    except LeftOut as left:
        return Item(title, left_out=left.code, detail=left.detail)


def _read(item: Mark, title: str) -> Item:
    body = item.child("itemBody")
    if body is None:
        raise LeftOut("no_question")
    asked = [one for one in body.walk() if one.name.endswith("Interaction")]
    if len(asked) != 1:
        raise LeftOut("several" if asked else "no_question")
    (interaction,) = asked
    found = Item(title, prompt=_prompt(body, interaction))
    draws = draws_of(item)
    declared = _declared(item, interaction)
    if interaction.name in ("choiceInteraction", "inlineChoiceInteraction", "hottextInteraction"):
        _read_choice(found, interaction, declared, draws)
        _choice_feedback(found, item, interaction)
    elif interaction.name in ("textEntryInteraction", "extendedTextInteraction", "sliderInteraction"):
        _read_entry(found, item, interaction, declared, draws)
        found.explanation = _solution(item)
    else:
        raise LeftOut("interaction", interaction.name)
    found.values, found.where = draws.written, " and ".join(draws.where)
    if not found.prompt:
        raise LeftOut("no_question")
    return found


def _prompt(body: Mark, interaction: Mark) -> str:
    """Return the question: the text around the interaction and its prompt."""
    own = interaction.child("prompt")
    inner = interaction if interaction.name == "hottextInteraction" else own
    texts = [text_of(body), "" if inner is None else text_of(inner)]
    prompt = "\n".join(text for text in texts if text)
    if prompt.endswith(f"\n{GAP}"):  # a gap in a line of its own only says where to write
        return prompt.removesuffix(f"\n{GAP}")
    ends = prompt.count(GAP) == 1 and "?" in prompt
    return prompt.removesuffix(f" {GAP}") if ends else prompt


def _declared(item: Mark, interaction: Mark) -> Mark:
    wanted = interaction.attributes.get("responseIdentifier", "")
    found = (one for one in item.all("responseDeclaration") if one.attributes.get("identifier") == wanted)
    declared = next(found, None)
    if declared is None:
        raise LeftOut("no_key")
    return declared


def _correct(declared: Mark, draws: Draws) -> list[str]:
    """Return the right answers: those that are set, the declared ones, or those that earn most."""
    set_later = draws.correct.get(declared.attributes.get("identifier", ""))
    if set_later is not None:
        return [set_later]
    correct = declared.child("correctResponse")
    values = [one.text.strip() for one in correct.all("value")] if correct else []
    earned = _earned(declared)
    most = max(earned.values(), default=0.0)
    return values or [key for key, points in earned.items() if points == most > 0]


def _earned(declared: Mark) -> dict[str, float]:
    earned: dict[str, float] = {}
    for entry in declared.all("mapEntry"):
        try:
            earned[entry.attributes.get("mapKey", "")] = float(entry.attributes.get("mappedValue", ""))
        except ValueError:
            continue
    return earned


def _options(interaction: Mark) -> list[Mark]:
    names = {"choiceInteraction": "simpleChoice", "inlineChoiceInteraction": "inlineChoice"}
    return list(interaction.all(names.get(interaction.name, "hottext")))


def _read_choice(found: Item, interaction: Mark, declared: Mark, draws: Draws) -> None:
    options = _options(interaction)
    right = _correct(declared, draws)
    if not right:
        raise LeftOut("no_key")
    if len(right) > 1:
        raise LeftOut("several_right")
    known = [one.attributes.get("identifier", "") for one in options]
    if right[0] not in known or len(options) < 2:
        raise LeftOut("no_key")
    texts = [_option_text(one, draws) for one in options]
    found.kind, found.right_place = "choice", known.index(right[0])
    found.answer = texts.pop(found.right_place)
    found.wrong = texts


def _option_text(option: Mark, draws: Draws) -> str:
    text = text_of(option)
    if not text:
        raise LeftOut("picture")
    inner = text[1:-1]
    return inner if draws.drawn and text == f"{{{inner}}}" and inner in draws.names else text


def _read_entry(found: Item, item: Mark, interaction: Mark, declared: Mark, draws: Draws) -> None:
    right = _correct(declared, draws)
    if not right:
        raise LeftOut("no_key")
    if declared.attributes.get("cardinality", "single") != "single":
        raise LeftOut("several_right")
    number = declared.attributes.get("baseType") in _NUMBERS or interaction.name == "sliderInteraction"
    found.kind = "number" if number else "string" if not draws.drawn else "text"
    found.answer, *also = right
    best = _earned(declared).get(found.answer)
    also += [key for key, points in _earned(declared).items() if best is not None and points == best]
    found.alternatives = [one for one in dict.fromkeys(also) if one != found.answer]
    asked = interaction.attributes.get("class", "")
    if asked.startswith("asked-"):  # a set that was written here
        found.kind = asked.removeprefix("asked-")
    if number:
        found.tolerance = _tolerance(item)
        found.unit = next((one.text for one in item.all("span") if one.attributes.get("class") == "unit"), "")


def _tolerance(item: Mark) -> list[tuple[float, bool]]:
    """Read how far a number may be off, from the comparison of the response processing."""
    for one in item.all("equal"):
        mode, written = (
            one.attributes.get("toleranceMode", "exact"),
            one.attributes.get("tolerance", "").split(),
        )
        if mode == "exact" or not written:
            continue
        try:
            amounts = {float(part) for part in written}
        except ValueError:
            raise LeftOut("tolerance", " ".join(written)) from None
        if len(amounts) > 1:
            raise LeftOut("tolerance", " ".join(written))
        share = mode == "relative"
        return [(amounts.pop() / (100.0 if share else 1.0), share)]  # a relative tolerance is in percent
    for one in item.all("equalRounded"):
        figures = one.attributes.get("figures", "")
        if one.attributes.get("roundingMode") != "decimalPlaces" or not figures.isdigit():
            raise LeftOut("tolerance", one.attributes.get("roundingMode", "significantFigures"))
        return [(0.5 * 10.0 ** -int(figures), False)]
    return []


# ---------------------------------------------------------------- feedback


def _feedback(item: Mark) -> dict[str, str]:
    """Return what is shown by the identifier that shows it."""
    found: dict[str, str] = {}
    for name in ("feedbackInline", "feedbackBlock", "modalFeedback"):
        for one in item.all(name):
            if one.attributes.get("showHide", "show") == "show":
                text = _said(one)
                identifier = one.attributes.get("identifier", "")
                found[identifier] = f"{found[identifier]} {text}" if found.get(identifier) else text
    return found


def _said(mark: Mark) -> str:
    try:
        return text_of(Mark("div", {}, mark.text, "", mark.children)).replace("\n", " ")
    except LeftOut:  # a picture in a feedback: what is said in words stays
        return ""


def _choice_feedback(found: Item, item: Mark, interaction: Mark) -> None:
    said = _feedback(item)
    names = [one.attributes.get("identifier", "") for one in _options(interaction)]
    right = names.pop(found.right_place)
    found.why = [said.get(name, "") for name in names]
    while found.why and not found.why[-1]:
        found.why.pop()
    found.explanation = said.get(right, "") or _solution(item)


def _solution(item: Mark) -> str:
    """Return the feedback that explains the answer, whoever gave it."""
    said = _feedback(item)
    return next((text for name, text in said.items() if name.lower() in _SOLUTIONS and text), "")
