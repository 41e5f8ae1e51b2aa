"""``holdfast import``: what scripts read, and that nothing doubtful is stored."""

import json
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from bot.cli.group import holdfast
from bot.cli.outcome import PROBLEMS, CommandFailed
from bot.clock import WallClock
from storage.base.database import Database, connect
from storage.school import enrolments, timetable
from storage.tables import Score, Topic, Upload
from tests.contracts.storage_school import NOW, school_class, student


@pytest.fixture
def school(sqlite_url, tmp_path, monkeypatch):
    """A school whose class has Mira and Sam. Commands work on it."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("HOLDFAST_DATABASE_URL", sqlite_url)
    database = connect(sqlite_url)
    with database.begin() as session:
        group = school_class(session)
        student(session, group, "Mira")
        student(session, group, "Sam")
    yield database
    database.close()


def _coming(weekday: int, weeks: int = 0) -> date:
    """Return the next such weekday (Monday 0) after today: the command looks at the real date."""
    today = WallClock().now().date()
    return today + timedelta(days=(weekday - today.weekday() - 1) % 7 + 1 + 7 * weeks)


def _import(kind: str, text: str, *more: str) -> Result:
    """Import a file of these lines; the result has the code that the shell would see."""
    Path(f"{kind}.csv").write_text(text, "utf-8")
    words = ["import", kind, f"{kind}.csv", "--class", "10b-physics", *more]
    result = CliRunner().invoke(holdfast, words)
    if isinstance(result.exception, CommandFailed):
        result.exit_code = result.exception.code
    elif result.exception is not None and not isinstance(result.exception, SystemExit):
        raise result.exception
    return result


def _check(kind: str, text: str, *more: str) -> tuple[int, dict[str, Any]]:
    done = _import(kind, text, "--check", "--json", *more)
    return done.exit_code, json.loads(done.stdout)


def _uploads(school: Database) -> int:
    from sqlmodel import func, select

    with school.reading() as session:
        return session.exec(select(func.count()).select_from(Upload)).one()


# ---------------------------------------------------------------- the rows of each kind


def test_a_checked_timetable_is_its_rows_and_nothing_is_stored(school):
    monday, tuesday, friday = _coming(0), _coming(1), _coming(4)
    code, told = _check(
        "timetable",
        "date,start,topic,kind,until\n"
        f"{monday},10:15,Density,lesson,\n{tuesday},,Quiz 1,quiz,\n{friday},,Founders' day,holiday,\n",
    )
    assert code == 0
    assert list(told) == ["kind", "file", "stored", "rows", "asks", "problems"]
    assert (told["kind"], told["file"], told["stored"]) == ("timetable", "timetable.csv", False)
    assert told["rows"] == [
        {"type": "lesson", "day": f"{monday}", "start": "10:15", "topic": "Density"},
        {"type": "quiz", "day": f"{tuesday}", "name": "Quiz 1", "kind": "quiz"},
        {"type": "holiday", "first": f"{friday}", "last": f"{friday}", "name": "Founders' day"},
    ]
    assert told["asks"] == []
    assert {one["severity"] for one in told["problems"]} <= {"note"}
    assert _uploads(school) == 0
    with school.reading() as session:
        assert timetable.lessons(session, 1) == []


def test_a_lesson_without_an_hour_has_no_start(school):
    del school
    _, told = _check("timetable", f"date,topic\n{_coming(0)},Density\n")
    assert told["rows"] == [{"type": "lesson", "day": f"{_coming(0)}", "start": None, "topic": "Density"}]


def test_checked_questions_have_answers_wrong_options_and_unit(school):
    del school
    code, told = _check(
        "questions",
        "topic,question,kind,answer,alternatives,wrong options,unit\n"
        "Force,Unit of force?,choice,newton,,joule|watt,\n"
        "Force,Weight of 1 kg?,number,9.81,,,N\n"
        "Force,Who measured it?,text,Cavendish,Henry Cavendish,,\n",
    )
    assert code == 0
    assert told["rows"] == [
        {
            "topic": "Force", "question": "Unit of force?", "kind": "choice",
            "answers": ["newton"], "wrong": ["joule", "watt"], "unit": None,
        },
        {
            "topic": "Force", "question": "Weight of 1 kg?", "kind": "number",
            "answers": ["9.81"], "wrong": [], "unit": "N",
        },
        {
            "topic": "Force", "question": "Who measured it?", "kind": "text",
            "answers": ["Cavendish", "Henry Cavendish"], "wrong": [], "unit": None,
        },
    ]  # fmt: skip


def test_a_question_whose_answer_cannot_be_used_is_an_error_with_its_row_and_column(school):
    del school
    code, told = _check(
        "questions",
        "topic,question,kind,answer,unit\nForce,Weight?,number,9.81,N\nForce,Mass?,number,heavy,kg\n",
    )
    assert code == PROBLEMS
    assert [one["question"] for one in told["rows"]] == ["Weight?"]
    (problem,) = told["problems"]
    assert (problem["row"], problem["column"], problem["severity"]) == (3, "D", "error")


def test_a_checked_roster_is_names(school):
    code, told = _check("roster", "Nr.,Name,Vorname\n1,Adler,Lena\n2,Berg,Tom Jonas\n")
    assert (code, told["rows"]) == (0, [{"name": "Lena Adler"}, {"name": "Tom Jonas Berg"}])
    assert [one["severity"] for one in told["problems"]] == ["note"]  # the numbers are not kept
    with school.reading() as session:
        assert len(enrolments.roster(session, 1)) == 2


def _with_a_quiz(school: Database, topic: str = "Density") -> None:
    done = _import(
        "timetable", f"date,topic,kind\n{_coming(0)},{topic},lesson\n{_coming(4)},Quiz 1,quiz\n", "--yes"
    )
    assert done.exit_code == 0


def test_checked_scores_are_per_student(school):
    _with_a_quiz(school)
    code, told = _check("scores", "student,quiz,score,out of\nMira,Quiz 1,12,20\nSam,Quiz 1,15,20\n")
    assert code == 0
    assert told["rows"] == [
        {"student": "Mira", "quiz": "Quiz 1", "topic": None, "score": 12.0, "out_of": 20.0},
        {"student": "Sam", "quiz": "Quiz 1", "topic": None, "score": 15.0, "out_of": 20.0},
    ]


# ---------------------------------------------------------------- what needs the teacher


def test_a_doubt_is_asked_with_its_options_and_settled_by_one_of_them(school):
    del school
    Path("plan.csv").write_bytes(f"date,topic\n{_coming(0)},Kräfte\n".encode("mac_roman"))
    words = ["import", "timetable", "plan.csv", "--class", "10b-physics", "--check", "--json"]
    asked = CliRunner().invoke(holdfast, words)
    assert isinstance(asked.exception, CommandFailed)
    assert asked.exception.code == PROBLEMS
    told = json.loads(asked.stdout)
    (ask,) = told["asks"]
    assert told["rows"] == []
    assert "encoding=mac_roman (Kräfte)" in ask["options"]
    settled = CliRunner().invoke(holdfast, [*words, "--choose", "encoding=mac_roman"])
    assert settled.exit_code == 0
    assert [one["topic"] for one in json.loads(settled.stdout)["rows"]] == ["Kräfte"]


def test_scores_of_unknown_students_are_named_and_nothing_is_stored_silently(school):
    _with_a_quiz(school)
    sheet = "student,quiz,score,out of\nMira,Quiz 1,12,20\nZoe,Quiz 1,15,20\n"
    done = _import("scores", sheet, "--yes")
    assert done.exit_code == PROBLEMS
    assert "Row 3: no student “Zoe” in this class" in done.stderr
    assert "Nothing of this row can be stored." in done.stderr
    assert _scores(school) == 0
    assert _import("scores", sheet, "--yes", "--rest").exit_code == 0
    assert _scores(school) == 1


def _scores(school: Database) -> int:
    from sqlmodel import func, select

    with school.reading() as session:
        return session.exec(select(func.count()).select_from(Score)).one()


def test_which_quiz_is_asked_and_chosen(school):
    _with_a_quiz(school)
    sheet = "student,score,out of\nMira,12,20\n"
    code, told = _check("scores", sheet)
    assert code == PROBLEMS
    assert told["rows"][0]["quiz"] is None
    assert told["asks"] == [
        {"ask": "Which quiz are these scores of?", "options": [f"quiz=1 (Quiz 1, {_coming(4)})"]}
    ]
    assert _import("scores", sheet, "--yes", "--choose", "quiz=1").exit_code == 0
    assert _scores(school) == 1
    assert _import("scores", sheet, "--yes", "--choose", "quiz=first").exit_code == 2


@pytest.mark.parametrize(
    ("answer", "names"), [("yes", {"Pressure in gases"}), ("no", {"Density", "Pressure in gases"})]
)
def test_a_topic_that_may_be_renamed_is_asked_about_and_never_taken_by_yes(school, answer, names):
    _with_a_quiz(school)
    changed = f"date,topic,kind\n{_coming(0)},Pressure in gases,lesson\n{_coming(4)},Quiz 1,quiz\n"
    done = _import("timetable", changed, "--yes")
    assert done.exit_code == PROBLEMS
    assert "Density → Pressure in gases: I take it as the same topic" in done.stderr
    assert "Decide: --choose renamed=no  (two topics)" in done.stderr
    assert _import("timetable", changed, "--yes", "--choose", f"renamed={answer}").exit_code == 0
    from sqlmodel import select

    with school.reading() as session:
        assert set(session.exec(select(Topic.name))) == names


# ---------------------------------------------------------------- the outcome


def test_a_stored_file_says_so_in_the_same_form(school):
    done = _import("roster", "name\nLena Adler\n", "--yes", "--json")
    told = json.loads(done.stdout)
    assert (done.exit_code, told["stored"], told["counts"]) == (0, True, {"students": 1})
    assert _uploads(school) == 1


def test_json_without_a_decision_is_refused_and_a_check_in_words_stores_nothing(school):
    refused = _import("roster", "name\nLena Adler\n", "--json")
    assert refused.exit_code == 2
    assert "say --check to store nothing, or --yes" in refused.stderr
    checked = _import("roster", "name\nLena Adler\n", "--check")
    assert (checked.exit_code, checked.stdout) == (0, "roster.csv: 1 student\n")
    assert "Nothing was stored: it was only checked." in checked.stderr
    assert _uploads(school) == 0


def test_a_check_works_where_the_database_can_only_be_read(school, tmp_path):
    assert WallClock().now() > NOW
    path = Path(str(school.url).removeprefix("sqlite:///"))
    path.chmod(0o400)
    try:
        assert _check("roster", "name\nLena Adler\n")[0] == 0
    finally:
        path.chmod(0o600)
