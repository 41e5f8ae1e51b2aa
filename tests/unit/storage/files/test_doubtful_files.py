"""Files that can be read in more than one way are read right or asked about, never guessed silently."""

from __future__ import annotations

from datetime import date

import pytest

from storage.files.encodings import decode
from storage.files.sheet import Refused
from storage.files.timetable import read_timetable
from storage.files.values import Reading, TimetableFile

TODAY = date(2026, 11, 25)

GERMAN = "Thema;Datum\nKräfte;01.12.2026\nWärme und Stöße;03.12.2026\nGröße;05.12.2026\n"
FRENCH = "sujet;date\nÉnergie cinétique;01/12/2026\nForces à distance;15/12/2026\n"
SPANISH = "tema;fecha\nTensión y año;01/12/2026\n"
CZECH = "Téma;Datum\nŽelezný žebřík;1.12.2026\n"


def timetable(data: bytes | str, **more: object) -> Reading[TimetableFile]:
    content = data.encode() if isinstance(data, str) else data
    return read_timetable(content, "plan.csv", zone="Europe/Berlin", today=TODAY, **more)  # type: ignore[arg-type]


# ---------------------------------------------------------------- encodings


@pytest.mark.parametrize(
    "encoding",
    ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1252", "latin-1", "mac_roman", "cp850"],
)
@pytest.mark.parametrize("text", [GERMAN, FRENCH])
def test_f21_every_usual_encoding_is_read_right(text: str, encoding: str) -> None:
    # the tables of these encodings are Python's own codecs, made from the mappings that unicode.org publishes
    reading = timetable(text.encode(encoding))
    assert [one.topic for one in reading.value.lessons] == [
        row.split(";")[0] for row in text.splitlines()[1:]
    ]


@pytest.mark.parametrize("encoding", ["mac_roman", "cp850", "cp1252", "cp1250"])
@pytest.mark.parametrize("text", ["topic\nKräfte\n", "topic\nÖsen\n", SPANISH, CZECH, "topic\n½\n"])
def test_f21_a_text_is_read_right_or_asked_about_with_the_right_reading_among_the_answers(
    text: str, encoding: str
) -> None:
    try:
        data = text.encode(encoding)
    except UnicodeEncodeError:
        pytest.skip("this code page does not have the letters")
    try:
        assert decode(data, "plan.csv") == text
    except Refused as refused:
        answers = [decode(data, "plan.csv", option.chosen) for option in refused.problem.options]
        assert text in answers


def test_f21_a_doubtful_encoding_is_asked_about_by_an_example_and_settled_by_the_answer() -> None:
    data = "topic,date\nKräfte,2026-12-01\n".encode("mac_roman")
    asked = timetable(data)
    assert not asked.usable
    (question,) = asked.questions
    assert [option.label for option in question.options] == ["Kräfte", "Krèfte", "KrŠfte"]
    assert '"Kräfte" / "Krèfte" / "KrŠfte"' in question.sentence
    chosen = question.options[0]
    settled = timetable(data, choices={chosen.about: chosen.chosen})
    assert settled.clean
    assert settled.value.lessons[0].topic == "Kräfte"


def test_f21_text_that_was_encoded_twice_is_asked_about() -> None:
    twice = "topic,date\nKräfte,2026-12-01\n".encode().decode("cp1252").encode()
    (question,) = timetable(twice).questions
    assert [option.label for option in question.options] == ["Kräfte", "KrÃ¤fte"]
    settled = timetable(twice, choices={"encoding": question.options[0].chosen})
    assert settled.value.lessons[0].topic == "Kräfte"


def test_f21_a_calendar_in_an_older_encoding_is_asked_about_too() -> None:
    lines = ["BEGIN:VCALENDAR", "VERSION:2.0", "PRODID:x", "BEGIN:VEVENT", "UID:1", "DTSTART:20261201T090000",
             "DTEND:20261201T100000", "SUMMARY:Kräfte", "END:VEVENT", "END:VCALENDAR", ""]  # fmt: skip
    data = "\r\n".join(lines).encode("mac_roman")
    (question,) = timetable(data).questions
    settled = timetable(data, choices={"encoding": question.options[0].chosen})
    assert settled.value.lessons[0].topic == "Kräfte"
