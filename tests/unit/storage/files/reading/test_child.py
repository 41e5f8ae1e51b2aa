"""The limited child process: whatever a file does to it, the parent gets a value or one plain problem."""

from __future__ import annotations

import json
import sys
from datetime import date
from pathlib import Path

import openpyxl
import pytest

from storage.files.problem import Phrase, problem
from storage.files.reading import child, limits
from storage.files.reading.child import problem_from_plain, problem_to_plain, read_in_child
from storage.files.reading.sheet import Fault, FileRefused
from storage.files.reading.table import read_sheet
from tests.samples.workbooks import ods, repacked, saved, xlsx

LIST = Phrase("wanted.timetable")


def refusal(data: bytes, name: str = "plan.xlsx") -> str:
    with pytest.raises(FileRefused) as refused:
        read_sheet(data, name, LIST)
    return refused.value.problem.code


def test_child_gives_cells_back_with_their_types() -> None:
    day = date(2026, 12, 1)
    sheet = read_sheet(xlsx([["topic", "date", "n"], ["Forces", day, "=1+1"]]), "plan.xlsx", LIST)
    assert sheet.rows == (("topic", "date", "n"), ("Forces", day, Fault("cell_formula", "=1+1")))


def test_child_reads_opendocument() -> None:
    assert read_sheet(ods([["topic"], [0.5]]), "plan.ods", LIST).rows == (("topic",), (0.5,))


def test_child_answers_a_far_cell_within_the_limits() -> None:
    book = openpyxl.Workbook()
    book.active["A1"] = "topic"
    book.active["XFD1048576"] = "far"
    assert refusal(saved(book)) == "rows_many"


def test_child_names_a_damaged_workbook() -> None:
    assert refusal(repacked(xlsx([["topic"]]), {"xl/workbook.xml": b"<workbook"})) == "file_broken"


@pytest.mark.parametrize(
    "work",
    ["bytearray(limits.CHILD_MEMORY_BYTES)", "[0] * 10**10", "sum(iter(int, 1))"],
    ids=["memory", "more memory", "processor"],
)
def test_child_that_runs_into_a_limit_is_a_costly_file(monkeypatch: pytest.MonkeyPatch, work: str) -> None:
    program = (
        "import sys; sys.path[:0] = sys.argv[1:2]\n"
        "from storage.files.reading import limits, reading_child\n"
        "limits.CHILD_CPU_S = 1\n"
        f"reading_child.do_task = lambda head, data: {work}\n"
        "reading_child.main()"
    )
    monkeypatch.setattr(child, "_START", program)
    assert refusal(xlsx([["topic"]])) == "file_costly"


@pytest.mark.parametrize(
    ("program", "code"),
    [
        ("import os, signal; os.kill(os.getpid(), signal.SIGKILL)", "file_costly"),
        ("import sys; sys.exit(3)", "file_broken"),
        ("print('no json')", "file_broken"),
        ("import json; print(json.dumps({'failed': 'MemoryError'}))", "file_costly"),
        ("import json; print(json.dumps({'failed': 'KeyError'}))", "file_broken"),
    ],
)
def test_parent_survives_every_end_of_the_child(
    monkeypatch: pytest.MonkeyPatch, program: str, code: str
) -> None:
    monkeypatch.setattr(child, "_START", program)
    assert refusal(xlsx([["topic"]])) == code


def test_parent_stops_a_child_that_takes_too_long(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(child, "_START", "import time; time.sleep(60)")
    monkeypatch.setattr(limits, "CHILD_WALL_S", 0.2)
    assert refusal(xlsx([["topic"]])) == "file_costly"


def test_parent_says_when_no_child_can_be_started(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "executable", "/nonexistent/python")
    assert refusal(xlsx([["topic"]])) == "file_reader_lost"


def test_child_can_neither_write_files_nor_lift_its_limits(monkeypatch: pytest.MonkeyPatch) -> None:
    program = (
        "import sys, json, resource; sys.path[:0] = sys.argv[1:2]\n"
        "from storage.files.reading.reading_child import limit_self\n"
        "limit_self()\n"
        "answer = {name: resource.getrlimit(getattr(resource, name)) for name in "
        "('RLIMIT_AS', 'RLIMIT_CPU', 'RLIMIT_FSIZE')}\n"
        "print(json.dumps(answer))"
    )
    monkeypatch.setattr(child, "_START", program)
    answer = read_in_child("xlsx", b"", "plan.xlsx")
    assert answer["RLIMIT_AS"] == [limits.CHILD_MEMORY_BYTES] * 2
    assert answer["RLIMIT_CPU"] == [limits.CHILD_CPU_S] * 2
    assert answer["RLIMIT_FSIZE"] == [0, 0]


def test_problems_survive_the_way_through_json() -> None:
    one = problem("rows_many", name="plan.xlsx", limit=2000)
    assert problem_from_plain(json.loads(json.dumps(problem_to_plain(one)))) == one


def test_remarks_of_a_library_are_no_part_of_the_answer() -> None:
    """An old workbook whose last sector is not full is remarked on by its reader, and read all the same."""
    data = (Path(__file__).parents[4] / "samples" / "office" / "plan_en.calc.xls").read_bytes()
    assert read_in_child("xls", data + b"\0" * 7, "plan.xls")["rows"][0] == ["Date", "Time", "Topic", "Kind"]
