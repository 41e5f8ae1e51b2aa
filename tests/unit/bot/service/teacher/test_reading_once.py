"""A file is parsed once, whatever it turns out to be."""

from __future__ import annotations

import subprocess
from collections.abc import Mapping
from datetime import date
from typing import Any

import pytest

from bot.service.teacher.upload_reading import KnownClass, recognise
from storage.files.values import KnownSchoolDays
from storage.tables import UploadKind
from tests.samples.workbooks import ods, xlsx

KNOWN = KnownClass(1, "Europe/London", date(2026, 11, 30), ("Forces",), KnownSchoolDays())
QUESTIONS = [["topic", "question", "answer", "wrong options"], ["Forces", "What is its unit?", "N", "J|W"]]
CALENDAR = "\r\n".join(
    [
        "BEGIN:VCALENDAR",
        "VERSION:2.0",
        "PRODID:-//invented//EN",
        "BEGIN:VEVENT",
        "UID:1@school.example",
        "DTSTAMP:20261101T120000Z",
        "DTSTART:20261201T090000Z",
        "SUMMARY:Forces",
        "END:VEVENT",
        "END:VCALENDAR",
        "",
    ]
).encode()


@pytest.fixture
def started(monkeypatch: pytest.MonkeyPatch) -> list[Mapping[str, Any]]:
    """Note every process that is started to parse a file."""
    noted: list[Mapping[str, Any]] = []
    really = subprocess.run

    def noting(*command: Any, **how: Any) -> Any:
        noted.append(how)
        return really(*command, **how)

    monkeypatch.setattr(subprocess, "run", noting)
    return noted


@pytest.mark.parametrize(
    ("data", "name", "kind"),
    [
        (xlsx(QUESTIONS), "sheet.xlsx", UploadKind.QUESTIONS),
        (ods(QUESTIONS), "sheet.ods", UploadKind.QUESTIONS),
        (CALENDAR, "plan.ics", UploadKind.TIMETABLE),
        (b"PK\x03\x04 broken", "sheet.xlsx", None),
    ],
    ids=["xlsx", "ods", "ics", "broken"],
)
def test_a_file_whose_kind_nobody_said_is_parsed_by_one_process(
    started: list[Mapping[str, Any]], data: bytes, name: str, kind: UploadKind | None
) -> None:
    found = recognise(data, name, KNOWN)
    assert found is not None
    assert len(started) <= 1
    if kind is not None:
        assert (found.kind, found.usable, len(started)) == (kind, True, 1)
