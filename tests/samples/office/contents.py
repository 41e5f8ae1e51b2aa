"""What the files of this folder hold, and what a fair reader makes of each: rows, or a question to the teacher.

All names and topics are invented. A cell may hold ``<sup>`` and ``<sub>``; a row of one cell is a title.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

Row = tuple[str, ...]


@dataclass(frozen=True)
class Content:
    """A table with what is expected of it.

    Attributes
    ----------
    kind : str
        As in ``holdfast import``.
    rows : tuple of tuple of str
        The table.
    expected : tuple of mapping
        The rows as ``holdfast import --check --json`` gives them; for a timetable without what is None.
    asked : bool
        Whether something has to be asked or corrected first: the expected rows are those that are read all the same.
    lines : bool
        Whether it stands as lines of text, without a table.
    """

    kind: str
    rows: tuple[Row, ...]
    expected: tuple[dict[str, Any], ...]
    asked: bool = False
    lines: bool = False
    without: frozenset[str] = field(default_factory=frozenset)


def lesson(day: str, topic: str, start: str | None = None) -> dict[str, Any]:
    return {"type": "lesson", "day": day, "start": start, "topic": topic}


def quiz(day: str, name: str, kind: str = "quiz") -> dict[str, Any]:
    return {"type": "quiz", "day": day, "name": name, "kind": kind}


def holiday(first: str, last: str, name: str) -> dict[str, Any]:
    return {"type": "holiday", "first": first, "last": last, "name": name}


def question(
    topic: str, asks: str, kind: str, answers: list[str], wrong: list[str], unit: str | None = None
) -> dict[str, Any]:
    return {"topic": topic, "question": asks, "kind": kind, "answers": answers, "wrong": wrong, "unit": unit}


CONTENTS: dict[str, Content] = {
    "plan_en": Content(
        "timetable",
        (
            ("Date", "Time", "Topic", "Kind"),
            ("2026-12-01", "10:15", "Hooke's law", ""),
            ("2026-12-03", "10:15", "Heat that is carried, and heat that is radiated, at home", ""),
            ("2026-12-08", "", "Quiz on forces", "quiz"),
            ("2026-12-21", "", "Winter break", "holiday"),
        ),
        (
            lesson("2026-12-01", "Hooke's law", "10:15"),
            lesson("2026-12-03", "Heat that is carried, and heat that is radiated, at home", "10:15"),
            quiz("2026-12-08", "Quiz on forces"),
            holiday("2026-12-21", "2026-12-21", "Winter break"),
        ),
    ),
    "plan_de": Content(
        "timetable",
        (
            ("Datum", "Uhrzeit", "Thema", "Art"),
            ("01.12.2026", "10:15", "Hookesches Gesetz", ""),
            ("03.12.2026", "10:15", "Wärmeleitung und Wärmestrahlung in der Küche", ""),
            ("08.12.2026", "", "Test Kräfte", "Test"),
            ("21.12.2026", "", "Weihnachtsferien", "Ferien"),
        ),
        (
            lesson("2026-12-01", "Hookesches Gesetz", "10:15"),
            lesson("2026-12-03", "Wärmeleitung und Wärmestrahlung in der Küche", "10:15"),
            quiz("2026-12-08", "Test Kräfte"),
            holiday("2026-12-21", "2026-12-21", "Weihnachtsferien"),
        ),
    ),
    "plan_titled": Content(
        "timetable",
        (
            ("Physics 10B, autumn term",),
            ("Day", "Lesson topic"),
            ("Tue 1 Dec 2026", "Springs"),
            ("Thu 3 Dec 2026", "Levers"),
        ),
        (lesson("2026-12-01", "Springs"), lesson("2026-12-03", "Levers")),
    ),
    "plan_weeks": Content(
        "timetable",
        (
            ("KW", "Tag", "Thema"),
            ("49", "Di", "Kräfte"),
            ("49", "Do", "Federn"),
            ("50", "Di", "Klassenarbeit"),
            ("50", "Do", "entfällt"),
        ),
        (
            lesson("2026-12-01", "Kräfte"),
            lesson("2026-12-03", "Federn"),
            quiz("2026-12-08", "Klassenarbeit", "exam"),
            holiday("2026-12-10", "2026-12-10", "entfällt"),
        ),
    ),
    "plan_no_year": Content(
        "timetable",
        (
            ("Datum", "Fach", "Thema"),
            ("Di 1.12.", "Physik", "Kräfte"),
            ("Do 3.12.", "Physik", "Federn"),
            ("Do 7.1.", "Physik", "Energie"),
        ),
        (lesson("2026-12-01", "Kräfte"), lesson("2026-12-03", "Federn"), lesson("2027-01-07", "Energie")),
    ),
    "plan_side": Content(
        "timetable",
        (
            ("Date", "Topic", "", "Date", "Topic"),
            ("2026-12-01", "Forces", "", "2026-12-15", "Energy"),
            ("2026-12-03", "Springs", "", "2026-12-17", "Power"),
        ),
        (
            lesson("2026-12-01", "Forces"),
            lesson("2026-12-15", "Energy"),
            lesson("2026-12-03", "Springs"),
            lesson("2026-12-17", "Power"),
        ),
    ),
    "plan_turned": Content(
        "timetable",
        (
            ("Date", "2026-12-01", "2026-12-03", "2026-12-08"),
            ("Time", "10:15", "10:15", "11:05"),
            ("Topic", "Forces", "Springs", "Quiz on forces"),
        ),
        (
            lesson("2026-12-01", "Forces", "10:15"),
            lesson("2026-12-03", "Springs", "10:15"),
            quiz("2026-12-08", "Quiz on forces"),
        ),
    ),
    "plan_grid": Content(
        "timetable",
        (
            ("Std.", "Di 01.12.2026", "Do 03.12.2026", "Di 08.12.2026"),
            ("1 (08:00)", "Kräfte", "", ""),
            ("2 (08:50)", "", "Federn", "Energie"),
        ),
        (
            lesson("2026-12-01", "Kräfte", "08:00"),
            lesson("2026-12-03", "Federn", "08:50"),
            lesson("2026-12-08", "Energie", "08:50"),
        ),
    ),
    "plan_day_beside": Content(
        "timetable",
        (
            ("Day", "Date", "Lesson topic", "Homework"),
            ("Tuesday", "1 December 2026", "Forces", "page 12"),
            ("Thursday", "3 December 2026", "Springs", ""),
            ("Monday", "21 December 2026", "Christmas break", ""),
        ),
        (
            lesson("2026-12-01", "Forces"),
            lesson("2026-12-03", "Springs"),
            holiday("2026-12-21", "2026-12-21", "Christmas break"),
        ),
    ),
    "questions_options": Content(
        "questions",
        (
            ("topic", "question", "A", "B", "C", "Correct"),
            ("Light", "Speed of light?", "3·10<sup>8</sup> m/s", "3·10<sup>6</sup> m/s", "300 m/s", "A"),
            ("Water", "Formula of water?", "HO", "H<sub>2</sub>O", "CO<sub>2</sub>", "B"),
        ),
        (
            question("Light", "Speed of light?", "choice", ["3·10⁸ m/s"], ["3·10⁶ m/s", "300 m/s"]),
            question("Water", "Formula of water?", "choice", ["H₂O"], ["HO", "CO₂"]),
        ),
        without=frozenset({"semicolon.csv"}),  # its code page has no raised digits
    ),
    "questions_plain": Content(
        "questions",
        (
            ("Thema", "Frage", "Antwort", "Einheit", "falsche Antworten"),
            ("Kräfte", "Einheit der Kraft?", "Newton", "", "Joule | Watt"),
            ("Dichte", "270 g in 100 cm³: wie groß ist die Dichte?", "2,7", "g/cm³", ""),
            ("Kräfte", "Ist die Gewichtskraft eine Kraft?", "wahr", "", ""),
            ("Energie", "Was bremst einen Schlitten?", "Reibung", "", ""),
        ),
        (
            question("Kräfte", "Einheit der Kraft?", "choice", ["Newton"], ["Joule", "Watt"]),
            question("Dichte", "270 g in 100 cm³: wie groß ist die Dichte?", "number", ["2,7"], [], "g/cm³"),
            question("Kräfte", "Ist die Gewichtskraft eine Kraft?", "truefalse", ["wahr"], ["falsch"]),
            question("Energie", "Was bremst einen Schlitten?", "text", ["Reibung"], []),
        ),
    ),
    "roster_two_columns": Content(
        "roster",
        (
            ("Nr.", "Name", "Vorname", "Klasse"),
            ("1", "Adler", "Mira", "10b"),
            ("2", "Öger", "Deniz", "10b"),
            ("3", "von Berg", "Anna-Lena", "10b"),
        ),
        ({"name": "Mira Adler"}, {"name": "Deniz Öger"}, {"name": "Anna-Lena von Berg"}),
    ),
    "roster_lines": Content(
        "roster",
        (("Mira Adler",), ("Deniz Öger",), ("Anna Berg",)),
        ({"name": "Mira Adler"}, {"name": "Deniz Öger"}, {"name": "Anna Berg"}),
        lines=True,
    ),
    "scores": Content(
        "scores",
        (
            ("student", "quiz", "topic", "score", "out of"),
            ("Mira Adler", "Quiz 1", "Hooke's law", "3", "4"),
            ("Anna Berg", "Quiz 1", "Hooke's law", "2,5", "4"),
        ),
        (
            {"student": "Mira Adler", "quiz": "Quiz 1", "topic": "Hooke's law", "score": 3.0, "out_of": 4.0},
            {"student": "Anna Berg", "quiz": "Quiz 1", "topic": "Hooke's law", "score": 2.5, "out_of": 4.0},
        ),
    ),
}  # fmt: skip
