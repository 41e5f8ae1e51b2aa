"""The questions of a class as a package in the form of the standard QTI 3.0, for other programs of a school.

References
----------
1EdTech, QTI 3.0 (final 2022): items, response declarations, feedback, the standard response processing templates
``match_correct`` and ``map_response``; Content Packaging 1.2 (2007): imsmanifest.xml.
"""

from __future__ import annotations

import io
import zipfile
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from xml.etree.ElementTree import Element, SubElement, indent, tostring

from bot.grading.drawn import Feedback, feedback_from_dict
from bot.grading.keys import AnswerKey, BadKey, from_dict
from bot.grading.kinds import recipe_of
from storage.history.evidence_rows import ClassRecords, QuestionRecord

NAMESPACE = "http://www.imsglobal.org/xsd/imsqtiasi_v3p0"
PACKAGING = "http://www.imsglobal.org/xsd/qti/qtiv3p0/imscp_v1p1"
TEMPLATES = "https://purl.imsglobal.org/spec/qti/v3p0/rptemplates"
ZIPPED_AT = (1980, 1, 1, 0, 0, 0)
"""The moment of every part, so that the same questions make the same bytes."""


@dataclass(frozen=True)
class QtiPackage:
    """A package, and the questions that the standard cannot hold as they are asked here."""

    data: bytes
    left_out: tuple[str, ...] = ()


def qti_package(rows: ClassRecords, questions: Sequence[QuestionRecord]) -> QtiPackage:
    """Pack the questions in use; each topic is a section of a test.

    Parameters
    ----------
    rows : ClassRecords
        For the names of class and topics.
    questions : sequence of QuestionRecord

    Returns
    -------
    QtiPackage
        Questions with drawn values, with steps or typical errors that are explained, and with pictures are left out
        and named: the standard has no place for them that other programs read alike.
    """
    topics = {row.id: row.name for row in rows.topics}
    items: dict[str, tuple[str, bytes]] = {}
    left: list[str] = []
    for row in questions:
        if row.retired or row.topic_id not in topics:
            continue
        item = _item(row)
        if item is None:
            left.append(row.prompt)
        else:
            items[f"q{row.id}"] = topics[row.topic_id], _bytes(item)
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in _parts(rows.school_class.name, items, left):
            archive.writestr(zipfile.ZipInfo(name, ZIPPED_AT), data)
    return QtiPackage(packed.getvalue(), tuple(left))


def _parts(
    title: str, items: dict[str, tuple[str, bytes]], left: Sequence[str]
) -> Iterator[tuple[str, bytes]]:
    manifest = Element("manifest", {"xmlns": PACKAGING, "identifier": "questions"})
    about = SubElement(manifest, "metadata")
    SubElement(about, "schema").text = "QTI Package"
    SubElement(about, "schemaversion").text = "3.0.0"
    SubElement(manifest, "organizations")
    resources = SubElement(manifest, "resources")
    _resource(resources, "test", "imsqti_test_xmlv3p0", "test.xml", items)
    for name in items:
        _resource(resources, name, "imsqti_item_xmlv3p0", f"items/{name}.xml")
    yield "imsmanifest.xml", _bytes(manifest)
    yield "test.xml", _bytes(_test(title, items))
    for name, (_, data) in items.items():
        yield f"items/{name}.xml", data
    if left:
        yield "left-out.txt", ("\n".join(left) + "\n").encode()


def _resource(resources: Element, name: str, kind: str, path: str, needs: Iterable[str] = ()) -> None:
    resource = SubElement(resources, "resource", {"identifier": name, "type": kind, "href": path})
    SubElement(resource, "file", {"href": path})
    for one in needs:
        SubElement(resource, "dependency", {"identifierref": one})


def _test(title: str, items: dict[str, tuple[str, bytes]]) -> Element:
    """Write the test that names the items, a section for each topic."""
    test = Element("qti-assessment-test", {"xmlns": NAMESPACE, "identifier": "test", "title": title})
    how = {"identifier": "part", "navigation-mode": "nonlinear", "submission-mode": "individual"}
    part = SubElement(test, "qti-test-part", how)
    sections: dict[str, Element] = {}
    for name, (topic, _) in items.items():
        if topic not in sections:
            about = {"identifier": f"s{len(sections) + 1}", "title": topic, "visible": "true"}
            sections[topic] = SubElement(part, "qti-assessment-section", about)
        SubElement(
            sections[topic], "qti-assessment-item-ref", {"identifier": name, "href": f"items/{name}.xml"}
        )
    return test


def _item(row: QuestionRecord) -> Element | None:
    if row.template is not None or row.picture:
        return None
    try:
        key, feedback = from_dict(row.answer), feedback_from_dict(row.feedback)
    except BadKey:
        return None
    is_tapped = recipe_of(key).is_tapped
    if feedback.steps or (feedback.wrong and not is_tapped):
        return None
    about = {"xmlns": NAMESPACE, "identifier": f"q{row.id}", "title": row.prompt[:120]}
    item = Element("qti-assessment-item", {**about, "adaptive": "false", "time-dependent": "false"})
    build = _choice if is_tapped else _entry
    build(item, row.prompt, key, feedback)
    if row.explanation:
        shown = {"outcome-identifier": "FEEDBACK", "identifier": "solution", "show-hide": "show"}
        modal = SubElement(item, "qti-modal-feedback", shown)
        _paragraphs(SubElement(modal, "qti-content-body"), row.explanation)
    return item


def _declare(item: Element, base: str, *right: str) -> Element:
    about = {"identifier": "RESPONSE", "cardinality": "single", "base-type": base}
    response = SubElement(item, "qti-response-declaration", about)
    correct = SubElement(response, "qti-correct-response")
    SubElement(correct, "qti-value").text = right[0]
    if len(right) > 1:
        mapping = SubElement(response, "qti-mapping", {"default-value": "0"})
        for one in right:
            SubElement(mapping, "qti-map-entry", {"map-key": one, "mapped-value": "1"})
    for name, kind in (("SCORE", "float"), ("FEEDBACK", "identifier")):
        outcome = {"identifier": name, "cardinality": "single", "base-type": kind}
        SubElement(item, "qti-outcome-declaration", outcome)
    return SubElement(item, "qti-item-body")


def _choice(item: Element, prompt: str, key: AnswerKey, feedback: Feedback) -> None:
    body = _declare(item, "identifier", "A")
    about = {"response-identifier": "RESPONSE", "shuffle": "true", "max-choices": "1"}
    asked = SubElement(body, "qti-choice-interaction", about)
    _paragraphs(SubElement(asked, "qti-prompt"), prompt)
    said = [one.because for one in feedback.wrong]
    for place, option in enumerate(recipe_of(key).options(key)):
        letter = chr(ord("A") + place)
        choice = SubElement(asked, "qti-simple-choice", {"identifier": letter})
        choice.text = option
        if place and place <= len(said) and said[place - 1]:
            shown = {"outcome-identifier": "FEEDBACK", "identifier": letter, "show-hide": "show"}
            SubElement(choice, "qti-feedback-inline", shown).text = said[place - 1]
    SubElement(item, "qti-response-processing", {"template": f"{TEMPLATES}/match_correct.xml"})


def _entry(item: Element, prompt: str, key: AnswerKey, feedback: Feedback) -> None:
    """Write a question whose answer is typed; a unit stands behind the gap."""
    del feedback
    recipe = recipe_of(key)
    written = recipe.written(key)
    answers, unit = [written.answer, *written.alternatives], written.unit
    base = "float" if recipe.is_figure else "string"
    if recipe.is_figure:  # of further answers those that are numbers of the same unit
        others = (one for one in written.alternatives if one.endswith(unit))
        answers = [written.answer, *(one.removesuffix(unit).strip() for one in others)]
    body = _declare(item, base, *answers)
    _paragraphs(body, prompt)
    line = SubElement(body, "p")
    gap = SubElement(line, "qti-text-entry-interaction", {"response-identifier": "RESPONSE"})
    gap.set("class", f"asked-{key.kind}")
    if unit:
        SubElement(line, "span", {"class": "unit"}).text = unit
    if written.tolerance is not None:
        _compare(item, written.tolerance.amount, relative=written.tolerance.relative)
    else:
        name = "map_response" if len(answers) > 1 else "match_correct"
        SubElement(item, "qti-response-processing", {"template": f"{TEMPLATES}/{name}.xml"})


def _compare(item: Element, amount: float, *, relative: bool) -> None:
    processing = SubElement(item, "qti-response-processing")
    condition = SubElement(SubElement(processing, "qti-response-condition"), "qti-response-if")
    mode = {"tolerance-mode": "relative" if relative else "absolute"}
    share = f"{amount * (100.0 if relative else 1.0):.12g}"
    equal = SubElement(condition, "qti-equal", {**mode, "tolerance": f"{share} {share}"})
    SubElement(equal, "qti-variable", {"identifier": "RESPONSE"})
    SubElement(equal, "qti-correct", {"identifier": "RESPONSE"})
    score = SubElement(condition, "qti-set-outcome-value", {"identifier": "SCORE"})
    SubElement(score, "qti-base-value", {"base-type": "float"}).text = "1"


def _paragraphs(parent: Element, text: str) -> None:
    for line in text.split("\n"):
        SubElement(parent, "p").text = line


def _bytes(root: Element) -> bytes:
    if root.tag == "manifest":
        indent(root)
    return bytes(tostring(root, encoding="utf-8", xml_declaration=True))
