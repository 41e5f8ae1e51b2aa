"""Damaged and hostile uploads: each imports, or names every problem; none raises, hangs or comes half.

Every upload starts as an honest file and is damaged at random: bytes flipped, cut out or put in; cells shuffled,
swapped for other types or filled with hostile text; lines of calendars torn. The same parsing code runs in this
process for most of them (a child process costs 0.3 s) and, for each kind of file, through the real child for some.
"""

from __future__ import annotations

import io
import random
import zipfile
from collections.abc import Callable
from datetime import date, time, timedelta
from pathlib import Path
from time import monotonic
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from storage.files.csv_out import write_csv
from storage.files.problem import problem
from storage.files.questions import read_questions
from storage.files.reading import limits, opened, reading_child
from storage.files.reading.sheet import FileRefused
from storage.files.roster import read_roster
from storage.files.scores import read_scores
from storage.files.timetables.coverage import quiz_topics
from storage.files.timetables.difference import compare
from storage.files.timetables.timetable import read_timetable
from storage.files.values import HolidayRow, LessonRow, QuizRow, Reading, ScoresFile, TimetableFile
from tests.samples.workbooks import ods, xlsx
from tests.wording import sentence as english

SAMPLES = Path(__file__).parents[1] / "samples" / "files"
TODAY = date(2026, 9, 1)
SLOWEST_S = (
    limits.CHILD_WALL_S + 5.0
)  # the promise: bounded, also when the machine that runs the tests is busy

ROWS: list[list[Any]] = [
    ["kind", "topic", "date", "start", "last day", "homework", "topics"],
    ["lesson", "Density", date(2026, 9, 8), time(8, 30), None, "p. 12", None],
    ["lesson", "Hooke's law", "10.09.2026", "8:30-9:15", None, None, None],
    ["quiz", "First quiz", "03/09/2026", None, None, None, "Density; Hooke's law"],
    ["holiday", "Half-term", date(2026, 10, 26), None, date(2026, 10, 30), None, None],
]
HOSTILE: list[Any] = [
    None, "", " ", "=1+1", "=cmd|'/c calc'!A0", "@SUM(A1)", "-1", "\u202eevil", "a\x00b", "\x07", "\ufffd", "𝔘" * 600,
    "x" * 501, "x" * 40_000, "31.02.2026", "03/04/2027", "99/99/9999", "0.0.0", "25:61", "1e999", "٣" * 50, "NaN",
    "{0}",
    "{name}", "%s", "<b>", "'; DROP TABLE lessons; --", "quiz", "holiday", "topic", "Density|" * 90, ";" * 300,
    True, 0, -1, 10**15, 1e300, 46480, 0.1, date(2026, 9, 8), date(1900, 1, 1), date(9999, 12, 31), time(8, 30),
]  # fmt: skip

Reader = Callable[[bytes], Reading[Any]]
READERS: dict[str, Reader] = {
    "timetable": lambda data: read_timetable(data, "up.load", zone="Europe/Berlin", today=TODAY),
    "questions": lambda data: read_questions(data, "up.load"),
    "roster": lambda data: read_roster(data, "up.load"),
    "scores": lambda data: read_scores(data, "up.load", quiz="Quiz 1", out_of=20),
}
TEXTS = {
    "timetable": ("physics_autumn.csv", "physik_herbst_windows.csv", "physics_autumn_with_problems.csv"),
    "questions": ("questions.csv",),
    "roster": ("roster.csv",),
    "scores": ("scores.csv",),
}


@pytest.fixture
def without_child(monkeypatch: pytest.MonkeyPatch) -> None:
    """Run the child's own parsing code in this process, with the same answer to every exception."""

    def parse(task: str, data: bytes, name: str, **details: str) -> dict[str, Any]:
        try:
            return reading_child.do_task({"task": task, "name": name, **details}, data)
        except FileRefused:
            raise
        except Exception:  # reading_child.main answers "failed" to any of them; the parent makes this of it
            raise FileRefused(problem("file_broken", name=name, kind="a workbook")) from None

    monkeypatch.setattr(opened, "read_in_child", parse)


def check(reading: Reading[Any]) -> None:
    """State what holds of every reading, whatever was sent."""
    for one in reading.problems:
        assert english(one).endswith(".")
        assert len(english(one)) < 1500
        assert english(one).isprintable()
    if reading.refused:
        assert len(reading.value) == 0, "a refused file gives no rows"
        return
    assert reading.clean == (len(reading.value) > 0 and not reading.faults and not reading.questions)
    good, bad = rows_of(reading.value), set(reading.rows_with_problems)
    beside = (
        sum(use.field == "date" for use in reading.columns) > 1
    )  # tables side by side: a row is of several
    if reading.kind != "ics" and not beside:  # an event of a calendar can have a good and a bad occurrence
        assert isinstance(reading.value, ScoresFile) or not good & bad, "a row is good or bad, not both"
        accounted = len(good | bad)
        # a score row of an absent student gives neither a score nor a problem
        assert accounted == reading.rows_read or (
            isinstance(reading.value, ScoresFile) and accounted < reading.rows_read
        )
    if isinstance(reading.value, TimetableFile):
        check_timetable(reading.value)


def rows_of(value: Any) -> set[int]:
    """Give the rows that were read well."""
    return {one.row for part in vars(value).values() for one in part}


def check_timetable(value: TimetableFile) -> None:
    """Hold that good entries are whole, within the window, and usable further on."""
    days = [one.day for one in value.lessons] + [one.day for one in value.quizzes]
    days += [day for one in value.holidays for day in (one.first_day, one.last_day)]
    assert all(abs((day - TODAY).days) <= limits.WINDOW_DAYS + limits.HOLIDAY_DAYS for day in days)
    assert all(one.topic.strip() and len(one.topic) <= limits.CELL_CHARACTERS for one in value.lessons)
    quiz_topics(value.lessons, value.quizzes)
    assert compare(stored(value), value).counts()["lessons"]["new"] == 0
    write_csv([[one.topic, one.day, one.start, one.homework] for one in value.lessons])


def stored(value: TimetableFile) -> TimetableFile:
    """Take a file as if it were stored already."""
    return TimetableFile(
        tuple(
            LessonRow(one.row, one.topic, one.day, one.start, one.end, one.homework) for one in value.lessons
        ),
        tuple(QuizRow(one.row, one.name, one.day, one.start, one.topics, one.kind) for one in value.quizzes),
        tuple(HolidayRow(one.row, one.first_day, one.last_day, one.name) for one in value.holidays),
    )


def read_in_time(reader: Reader, data: bytes) -> Reading[Any]:
    """Read, and fail if it took long."""
    started = monotonic()
    reading = reader(data)
    assert monotonic() - started < SLOWEST_S
    check(reading)
    return reading


def flip(data: bytes, rng: random.Random) -> bytes:
    """Damage a few bytes: change, cut out, repeat or put in."""
    damaged = bytearray(data)
    for _ in range(rng.choice((1, 1, 2, 5, 30))):
        at = rng.randrange(len(damaged)) if damaged else 0
        what = rng.random()
        if what < 0.5 and damaged:
            damaged[at] = rng.randrange(256)
        elif what < 0.7:
            del damaged[at : at + rng.randrange(1, 40)]
        elif what < 0.85:
            damaged[at:at] = damaged[at : at + rng.randrange(1, 400)]
        else:
            damaged[at:at] = bytes(rng.randrange(256) for _ in range(rng.randrange(1, 5)))
    return bytes(damaged)


def shuffled(rng: random.Random) -> list[list[Any]]:
    """Shuffle, swap and poison the cells of a sheet."""
    rows = [list(row) for row in ROWS]
    for _ in range(rng.randrange(1, 12)):
        row, other = rng.choice(rows), rng.choice(rows)
        at = rng.randrange(len(row))
        if rng.random() < 0.6:
            row[at] = rng.choice(HOSTILE)
        else:
            row[at], other[at] = other[at], row[at]
    if rng.random() < 0.2:
        rng.shuffle(rows)
    return rows


def torn(lines: list[bytes], rng: random.Random) -> bytes:
    """Tear a calendar: lines lost, repeated, exchanged, or replaced by hostile ones."""
    hostile = [
        b"RRULE:FREQ=SECONDLY", b"RRULE:FREQ=DAILY;COUNT=99999999", b"RRULE:FREQ=YEARLY;BYMONTH=2;BYMONTHDAY=30",
        b"RRULE:FREQ=DAILY;INTERVAL=0", b"DTSTART:99991231T235959Z", b"DTSTART;TZID=X/Y:20260901T080000",
        b"BEGIN:VEVENT",
        b"END:VEVENT", b"END:VCALENDAR", b"DURATION:P99999W", b"DTEND:00010101T000000Z", b"UID:lab@rowanhill.example",
        b"RDATE:20260901T080000Z,20260902T080000Z", b"EXDATE:garbage", b"X" * 9000 + b":1", b"\xff\xfe\x00", b" folded",
        b"RRULE:FREQ=WEEKLY;BYDAY=XX", b"RRULE:FREQ=WEEKLY;UNTIL=00000000", b"RECURRENCE-ID:20261102T100000",
    ]  # fmt: skip
    lines = list(lines)
    for _ in range(rng.randrange(1, 6)):
        at = rng.randrange(len(lines))
        what = rng.random()
        if what < 0.25 and len(lines) > 1:
            del lines[at]
        elif what < 0.4:
            lines.insert(at, rng.choice(lines))
        elif what < 0.6:
            other = rng.randrange(len(lines))
            lines[at], lines[other] = lines[other], lines[at]
        else:
            lines.insert(at, rng.choice(hostile))
    return b"\r\n".join(lines)


# --- 200 uploads by a fixed recipe, so that each failure has a number


@pytest.mark.usefixtures("without_child")
@pytest.mark.parametrize("number", range(0, 60))
def test_text_tables_with_damaged_bytes_import_or_name_every_problem(number: int) -> None:
    rng = random.Random(f"text {number}")
    kind = rng.choice(list(READERS))
    data = (SAMPLES / rng.choice(TEXTS[kind])).read_bytes()
    encoding = rng.choice((None, None, "utf-16", "utf-16-le", "utf-8-sig"))
    if encoding:
        data = data.decode("cp1252", "ignore").encode(encoding)
    read_in_time(READERS[kind], flip(data, rng))


@pytest.mark.usefixtures("without_child")
@pytest.mark.parametrize("number", range(60, 100))
def test_sheets_with_shuffled_cells_and_wrong_types_import_or_name_every_problem(number: int) -> None:
    rng = random.Random(f"cells {number}")
    rows = shuffled(rng)
    make = rng.choice((xlsx, ods, write_csv))
    data = make(rows if make is write_csv else without_controls(rows))
    for reader in READERS.values():
        read_in_time(reader, data)


@pytest.mark.usefixtures("without_child")
@pytest.mark.parametrize("number", range(100, 140))
def test_workbooks_with_damaged_bytes_import_or_name_every_problem(number: int) -> None:
    rng = random.Random(f"workbook {number}")
    data = rng.choice((xlsx, ods))(ROWS)
    read_in_time(READERS["timetable"], flip(data, rng))


@pytest.mark.usefixtures("without_child")
@pytest.mark.parametrize("number", range(140, 180))
def test_torn_calendars_import_or_name_every_problem(number: int) -> None:
    rng = random.Random(f"calendar {number}")
    lines = (SAMPLES / "physics_autumn.ics").read_bytes().split(b"\r\n")
    data = torn(lines, rng)
    read_in_time(READERS["timetable"], flip(data, rng) if rng.random() < 0.3 else data)


@pytest.mark.parametrize("number", range(180, 200))
def test_damaged_workbooks_and_calendars_through_the_real_child(number: int) -> None:
    rng = random.Random(f"child {number}")
    if number % 2:
        data = torn((SAMPLES / "physics_autumn.ics").read_bytes().split(b"\r\n"), rng)
    else:
        data = flip(rng.choice((xlsx, ods))(ROWS), rng)
    read_in_time(READERS["timetable"], data)


OFFICE = sorted(
    path
    for path in (Path(__file__).parents[1] / "samples" / "office").iterdir()
    if path.suffix in (".docx", ".odt", ".pdf", ".xls", ".html", ".md")
)


def inside_out(data: bytes, rng: random.Random) -> bytes:
    """Damage the text of one part of an archive, and pack it anew: what damaged bytes of the archive never reach."""
    packed = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(packed, "w") as new:
        parts = old.namelist()
        damaged = rng.choice(
            [name for name in parts if name.endswith(("document.xml", "content.xml", "styles.xml"))]
        )
        for name in parts:
            content = old.read(name)
            new.writestr(name, flip(content, rng) if name == damaged else content)
    return packed.getvalue()


@pytest.mark.usefixtures("without_child")
@pytest.mark.parametrize("number", range(200, 320))
def test_damaged_documents_and_pages_import_or_name_every_problem(number: int) -> None:
    rng = random.Random(f"document {number}")
    path = rng.choice(OFFICE)
    data = path.read_bytes()
    damaged = inside_out(data, rng) if data.startswith(b"PK") and rng.random() < 0.7 else flip(data, rng)
    kind = {"plan": "timetable"}.get(
        path.name.split("_")[0].split(".")[0], path.name.split("_")[0].split(".")[0]
    )
    read_in_time(READERS[kind], damaged)


@pytest.mark.parametrize("number", range(320, 332))
def test_damaged_documents_through_the_real_child(number: int) -> None:
    rng = random.Random(f"document child {number}")
    data = rng.choice(OFFICE).read_bytes()
    read_in_time(READERS["timetable"], flip(data, rng))


# --- any bytes, any table


@given(st.binary(max_size=300), st.sampled_from(sorted(READERS)))
@settings(max_examples=200, deadline=None)
def test_any_bytes_are_read_or_refused(data: bytes, kind: str) -> None:
    if data.startswith(b"PK") or b"VCALENDAR" in data.upper():
        return  # those go to the child; they have tests of their own
    read_in_time(READERS[kind], data)


CELLS = st.one_of(
    st.sampled_from([cell for cell in HOSTILE if isinstance(cell, str)]),
    st.text(max_size=20),
    st.dates(date(2026, 1, 1), date(2027, 6, 30)).map(lambda day: day.strftime("%d/%m/%Y")),
    st.sampled_from(["lesson", "quiz", "Density", "08:30", "5 %", "2.7 g/cm³", "a|b", "17/20", "x^2"]),
)


@given(
    st.sampled_from(sorted(READERS)),
    st.lists(st.lists(CELLS, min_size=1, max_size=9), min_size=1, max_size=8),
    st.booleans(),
)
@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.too_slow])
def test_any_table_under_any_headings_is_read_or_refused(
    kind: str, rows: list[list[str]], headed: bool
) -> None:
    heads = {
        "timetable": [str(cell) for cell in ROWS[0]],
        "questions": ["topic", "question", "answer", "wrong options", "tolerance", "unit", "kind"],
        "roster": ["name", "alias"],
        "scores": ["student", "quiz", "score", "out of"],
    }
    table_rows = [heads[kind], *rows] if headed else rows
    read_in_time(READERS[kind], write_csv(table_rows))


@given(
    st.lists(
        st.tuples(st.sampled_from(["Density", "Springs", "Moments", "Optics"]), st.dates(TODAY, date(2027, 6, 30))),
        max_size=25, unique=True,
    )
)  # fmt: skip
@settings(max_examples=60, deadline=None)
def test_timetable_written_as_csv_comes_back_as_it_was(lessons: list[tuple[str, date]]) -> None:
    rows: list[list[Any]] = [["topic", "date"], *([topic, day] for topic, day in lessons)]
    reading = READERS["timetable"](write_csv(rows))
    assert [(one.topic, one.day) for one in reading.value.lessons] == lessons
    if lessons:
        assert compare(stored(reading.value), reading.value).nothing


@given(st.dates(TODAY - timedelta(days=300), TODAY + timedelta(days=300)), st.booleans())
@settings(max_examples=100, deadline=None)
def test_written_day_is_read_as_that_day_or_asked_about_and_never_as_another(
    day: date, day_first: bool
) -> None:
    written = day.strftime("%d/%m/%Y" if day_first else "%m/%d/%Y")
    content = f"topic,date\nDensity,{written}\n".encode()
    reading = READERS["timetable"](content)
    if reading.questions:
        assert day in [option.day for option in reading.questions[0].options]
    elif reading.value.lessons:
        assert reading.value.lessons[0].day == day
    chosen = read_timetable(content, "up.load", zone="UTC", today=TODAY, day_first=day_first)
    assert [one.day for one in chosen.value.lessons] == [day]


def without_controls(rows: list[list[Any]]) -> list[list[Any]]:
    """Leave out the characters that XML cannot hold: no program can write such a workbook."""
    drop = dict.fromkeys((0, 7))
    return [[cell.translate(drop) if isinstance(cell, str) else cell for cell in row] for row in rows]
