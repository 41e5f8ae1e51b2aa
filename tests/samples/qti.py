"""Items of our own in the form of QTI, after every interaction of the standard, in three of its versions.

Written in the names of QTI 2.x; `in_version` turns them into those of 3.0. Names of elements, attributes and templates:
1EdTech, QTI 2.1 (2012), 2.2 (2021) and 3.0 (2022), information models and bindings.
"""

# ruff: noqa: E501 - the XML of an item is easier to read in one line
from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Mapping

NAMESPACES = {
    "2.1": "http://www.imsglobal.org/xsd/imsqti_v2p1",
    "2.2": "http://www.imsglobal.org/xsd/imsqti_v2p2",
    "3.0": "http://www.imsglobal.org/xsd/imsqtiasi_v3p0",
}
TYPES = {"2.1": "imsqti_item_xmlv2p1", "2.2": "imsqti_item_xmlv2p2", "3.0": "imsqti_item_xmlv3p0"}
TESTS = {"2.1": "imsqti_test_xmlv2p1", "2.2": "imsqti_test_xmlv2p2", "3.0": "imsqti_test_xmlv3p0"}
_PLAIN = {"p", "div", "span", "sup", "sub", "em", "strong", "ul", "li", "br", "img", "object", "video", "math", "mfrac", "mi",
          "mn", "mo", "mrow", "msup", "table", "tr", "td"}  # fmt: skip


def item(title: str, declared: str, body: str, rest: str = "") -> str:
    """Write an item in the names of QTI 2.x."""
    return (
        f'<assessmentItem xmlns="NAMESPACE" identifier="i1" title="{title}" adaptive="false" timeDependent="false">'
        f'{declared}<outcomeDeclaration identifier="SCORE" cardinality="single" baseType="float"/>'
        f"<itemBody>{body}</itemBody>{rest}</assessmentItem>"
    )


def declared(base: str, *values: str, cardinality: str = "single", mapping: str = "") -> str:
    """Write the declaration of a response with its right answers."""
    correct = "".join(f"<value>{one}</value>" for one in values)
    correct = f"<correctResponse>{correct}</correctResponse>" if values else ""
    return (
        f'<responseDeclaration identifier="RESPONSE" cardinality="{cardinality}" baseType="{base}">'
        f"{correct}{mapping}</responseDeclaration>"
    )


def in_version(text: str, version: str) -> bytes:
    """Turn an item into a version of the standard."""
    if version == "3.0":
        text = re.sub(r"(</?)([A-Za-z]+)", lambda found: found[1] + _tag(found[2]), text)
        text = re.sub(r" ([a-z]+(?:[A-Z][a-z]+)+)=", lambda found: f" {_kebab(found[1])}=", text)
    return (
        '<?xml version="1.0" encoding="UTF-8"?>' + text.replace("NAMESPACE", NAMESPACES[version])
    ).encode()


def _tag(name: str) -> str:
    return name if name in _PLAIN else f"qti-{_kebab(name)}"


def _kebab(name: str) -> str:
    return re.sub(r"([A-Z])", lambda found: "-" + found[1].lower(), name)


CHOICES = (
    '<simpleChoice identifier="A">joule<feedbackInline outcomeIdentifier="FEEDBACK" identifier="A" showHide="show">'
    "That is the unit of energy.</feedbackInline></simpleChoice>"
    '<simpleChoice identifier="B">newton</simpleChoice><simpleChoice identifier="C">watt</simpleChoice>'
)
ASKED = '<choiceInteraction responseIdentifier="RESPONSE" shuffle="true" maxChoices="{most}"><prompt>Unit of force?</prompt>{choices}</choiceInteraction>'
EQUAL = (
    '<responseProcessing><responseCondition><responseIf><equal toleranceMode="{mode}" tolerance="{amount}">'
    '<variable identifier="RESPONSE"/><correct identifier="RESPONSE"/></equal></responseIf></responseCondition>'
    "</responseProcessing>"
)
ENTRY = '<p>Weight of 1 kg in N? <textEntryInteraction responseIdentifier="RESPONSE" expectedLength="6"/></p>'

READ: Mapping[str, tuple[str, tuple[str, str, tuple[str, ...], tuple[str, ...]]]] = {
    "choice": (
        item("Unit", declared("identifier", "B"), ASKED.format(most=1, choices=CHOICES)),
        ("Unit of force?", "newton", ("joule", "watt"), ("That is the unit of energy.",)),
    ),
    "choice by its mapping": (
        item(
            "Unit",
            declared("identifier", mapping='<mapping defaultValue="0"><mapEntry mapKey="B" mappedValue="1"/>'
                     '<mapEntry mapKey="A" mappedValue="-1"/></mapping>'),
            ASKED.format(most=1, choices=CHOICES),
        ),
        ("Unit of force?", "newton", ("joule", "watt"), ("That is the unit of energy.",)),
    ),
    "true or false": (
        item(
            "Weight", declared("identifier", "T"),
            '<p>Is weight a force?</p><choiceInteraction responseIdentifier="RESPONSE" maxChoices="1">'
            '<simpleChoice identifier="T">true</simpleChoice><simpleChoice identifier="F">false</simpleChoice>'
            "</choiceInteraction>",
        ),
        ("Is weight a force?", "true", ("false",), ()),
    ),
    "inline choice": (
        item(
            "Gap", declared("identifier", "B"),
            '<p>The unit of force is the <inlineChoiceInteraction responseIdentifier="RESPONSE" shuffle="false">'
            '<inlineChoice identifier="A">joule</inlineChoice><inlineChoice identifier="B">newton</inlineChoice>'
            "</inlineChoiceInteraction>.</p>",
        ),
        ("The unit of force is the ___ .", "newton", ("joule",), ()),
    ),
    "hot text": (
        item(
            "Wrong word", declared("identifier", "B"),
            '<hottextInteraction responseIdentifier="RESPONSE" maxChoices="1"><prompt>Which word is wrong?</prompt>'
            '<p>The <hottext identifier="A">unit</hottext> of force is the <hottext identifier="B">joule</hottext>.</p>'
            "</hottextInteraction>",
        ),
        ("Which word is wrong?\nThe unit of force is the joule.", "joule", ("unit",), ()),
    ),
    "text entry": (
        item(
            "Name", declared("string", "newton", mapping='<mapping><mapEntry mapKey="newton" mappedValue="1"/>'
                             '<mapEntry mapKey="newtons" mappedValue="1"/></mapping>'),
            '<p>Name the unit of force: <textEntryInteraction responseIdentifier="RESPONSE"/></p>',
        ),
        ("Name the unit of force: ___", "newton", (), ()),
    ),
    "number with a tolerance": (
        item("Weight", declared("float", "9.8"), ENTRY, EQUAL.format(mode="absolute", amount="0.1")),
        ("Weight of 1 kg in N?", "9.8", (), ()),
    ),
    "raised letters and a formula": (
        item(
            "Area", declared("identifier", "A"),
            "<p>Area of a square of 3 m<sup>2</sup> ... and of <math><mfrac><mn>1</mn><mn>2</mn></mfrac></math>?</p>"
            '<choiceInteraction responseIdentifier="RESPONSE" maxChoices="1"><simpleChoice identifier="A">x<sup>2</sup>'
            '</simpleChoice><simpleChoice identifier="B">2x</simpleChoice></choiceInteraction>',
        ),
        ("Area of a square of 3 m² ... and of 1/2?", "x²", ("2x",), ()),
    ),
    "slider": (
        item(
            "Scale", declared("integer", "16"),
            '<sliderInteraction responseIdentifier="RESPONSE" lowerBound="0" upperBound="100" step="1">'
            "<prompt>How many are 4 squared?</prompt></sliderInteraction>",
        ),
        ("How many are 4 squared?", "16", (), ()),
    ),
    "extended text with its answer": (
        item(
            "Word", declared("string", "friction"),
            '<extendedTextInteraction responseIdentifier="RESPONSE"><prompt>What slows a sledge?</prompt>'
            "</extendedTextInteraction>",
        ),
        ("What slows a sledge?", "friction", (), ()),
    ),
}  # fmt: skip

_TWO = '<simpleAssociableChoice identifier="A" matchMax="1">a</simpleAssociableChoice><simpleAssociableChoice identifier="B" matchMax="1">b</simpleAssociableChoice>'
_PICTURE = '<object data="map.png" type="image/png" width="9" height="9"/>'
NAMED: Mapping[str, tuple[str, str]] = {
    "multiple response": (
        item("Two", declared("identifier", "A", "B", cardinality="multiple"), ASKED.format(most=0, choices=CHOICES)),
        "several_right",
    ),
    "without a key": (item("Keyless", declared("identifier"), ASKED.format(most=1, choices=CHOICES)), "no_key"),
    "a text to be read": (
        item("Essay", declared("string"), '<extendedTextInteraction responseIdentifier="RESPONSE"><prompt>Why?</prompt>'
             "</extendedTextInteraction>"),
        "no_key",
    ),
    "several questions": (
        item("Both", declared("float", "9.8"), ENTRY + ENTRY.replace("RESPONSE", "OTHER")), "several",
    ),
    "nothing asked": (item("Text", "", "<p>Only read.</p>"), "no_question"),
    "a picture": (
        item("Seen", declared("identifier", "B"), '<p>See <img src="a.png" alt="a"/></p>' + ASKED.format(most=1, choices=CHOICES)),
        "picture",
    ),
    "uneven tolerance": (
        item("Odd", declared("float", "9.8"), ENTRY, EQUAL.format(mode="absolute", amount="0.1 0.2")), "tolerance",
    ),
    **{
        name: (
            item("Other", declared(base, cardinality=cardinality),
                 f'<{name} responseIdentifier="RESPONSE"><prompt>What?</prompt>{inner}</{name}>'),
            code,
        )
        for name, base, cardinality, inner, code in (
            ("associateInteraction", "pair", "multiple", _TWO, "interaction"),
            ("matchInteraction", "directedPair", "multiple",
             f"<simpleMatchSet>{_TWO}</simpleMatchSet><simpleMatchSet>{_TWO}</simpleMatchSet>", "interaction"),
            ("orderInteraction", "identifier", "ordered",
             '<simpleChoice identifier="A">a</simpleChoice><simpleChoice identifier="B">b</simpleChoice>', "interaction"),
            ("gapMatchInteraction", "directedPair", "multiple",
             '<gapText identifier="A" matchMax="1">a</gapText><p>x <gap identifier="G"/></p>', "interaction"),
            ("graphicGapMatchInteraction", "directedPair", "multiple", _PICTURE, "interaction"),
            ("graphicAssociateInteraction", "pair", "multiple", _PICTURE, "interaction"),
            ("graphicOrderInteraction", "identifier", "ordered", _PICTURE, "interaction"),
            ("hotspotInteraction", "identifier", "single", _PICTURE, "interaction"),
            ("selectPointInteraction", "point", "multiple", _PICTURE, "interaction"),
            ("positionObjectInteraction", "point", "multiple", _PICTURE, "interaction"),
            ("drawingInteraction", "file", "single", _PICTURE, "interaction"),
            ("uploadInteraction", "file", "single", "", "interaction"),
            ("mediaInteraction", "integer", "single", _PICTURE, "interaction"),
            ("endAttemptInteraction", "boolean", "single", "", "interaction"),
            ("customInteraction", "string", "single", "", "interaction"),
            ("portableCustomInteraction", "string", "single", "", "interaction"),
        )
    },
}  # fmt: skip

DRAWN = item(
    "Speed",
    declared("float")
    + "".join(
        f'<templateDeclaration identifier="{one}" cardinality="single" baseType="integer"/>' for one in "stv"
    ),
    '<p>A sledge covers <printedVariable identifier="s"/> m in <printedVariable identifier="t"/> s. Speed in m/s? '
    '<textEntryInteraction responseIdentifier="RESPONSE"/></p>',
    "<templateProcessing>"
    '<setTemplateValue identifier="t"><randomInteger min="2" max="9"/></setTemplateValue>'
    '<setTemplateValue identifier="v"><randomInteger min="2" max="12" step="2"/></setTemplateValue>'
    '<setTemplateValue identifier="s"><product><variable identifier="v"/><variable identifier="t"/></product></setTemplateValue>'
    '<templateConstraint><not><equal><variable identifier="t"/><variable identifier="v"/></equal></not></templateConstraint>'
    '<setCorrectResponse identifier="RESPONSE"><divide><variable identifier="s"/><variable identifier="t"/></divide>'
    "</setCorrectResponse></templateProcessing>",
)


def package(
    items: Mapping[str, str],
    version: str,
    sections: Mapping[str, str] | None = None,
    folder: str = "",
    lacking: str = "",
) -> bytes:
    """Pack items with a manifest, and a test whose sections name them."""
    packed = io.BytesIO()
    resources = "".join(
        f'<resource identifier="r{place}" type="{TYPES[version]}" href="items/{name}.xml"><file href="items/{name}.xml"/></resource>'
        for place, name in enumerate(items)
    )
    with zipfile.ZipFile(packed, "w") as archive:
        for name, text in items.items():
            if name == lacking:
                continue
            archive.writestr(f"{folder}items/{name}.xml", in_version(text, version))
        if sections:
            parts = "".join(
                f'<assessmentSection identifier="s{place}" title="{title}" visible="true"><assessmentItemRef identifier="r{place}" href="items/{name}.xml"/></assessmentSection>'
                for place, (name, title) in enumerate(sections.items())
            )
            test = f'<assessmentTest xmlns="NAMESPACE" identifier="t" title="Test"><testPart identifier="p">{parts}</testPart></assessmentTest>'
            archive.writestr(f"{folder}test.xml", in_version(test, version))
            resources += f'<resource identifier="t" type="{TESTS[version]}" href="test.xml"><file href="test.xml"/></resource>'
        manifest = f'<?xml version="1.0"?><manifest xmlns="http://www.imsglobal.org/xsd/imscp_v1p1" identifier="m"><organizations/><resources>{resources}</resources></manifest>'
        archive.writestr(f"{folder}imsmanifest.xml", manifest)
    return packed.getvalue()
