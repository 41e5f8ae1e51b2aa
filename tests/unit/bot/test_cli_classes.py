"""``holdfast class`` and ``teacher``, with the rules of the chat; options that several commands share."""

import json
from datetime import UTC, datetime

import click
import pytest
from click.testing import CliRunner, Result

from bot.cli.group import holdfast
from bot.cli.option_types import iso_week, moment, student_name
from bot.cli.outcome import CommandFailed
from bot.clock import WallClock
from storage.base.database import Database, Session, connect
from storage.base.errors import InvalidValue
from storage.school import classes, codes, enrolments, people
from storage.tables import Code, CodeKind
from tests.contracts.storage_school import NOW, person, school_class, student


@pytest.fixture
def school(sqlite_url, tmp_path, monkeypatch):
    """A school with two classes of Ms Okafor and one student. Commands work on it."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("HOLDFAST_DATABASE_URL", sqlite_url)
    monkeypatch.setenv("HOLDFAST_DEFAULT_ZONE", "Europe/London")
    database = connect(sqlite_url)
    with database.begin() as session:
        first = school_class(session)
        school_class(session, "10C Physics")
        student(session, first, "Mira")
        enrolments.add_to_roster(session, first.id or 0, ["Noor"], NOW)
    yield database
    database.close()


def _run(*words: str, answers: str | None = None) -> Result:
    result = CliRunner().invoke(holdfast, words, input=answers)
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        raise result.exception
    return result


def _look(session: Session, code: str) -> Code | None:
    return codes.look(session, code, platform="terminal", user="x", now=WallClock().now()).code


def _second_teacher(school: Database) -> int:
    with school.begin() as session:
        lind = person(session, "lind")
        people.make_staff(session, lind, "Mr Lind", NOW)
        classes.add_teacher(session, 1, lind, "Mr Lind", NOW)
    return lind


# ---------------------------------------------------------------- classes


def test_a_created_class_waits_for_the_teacher_whose_code_is_printed(school):
    made = _run("class", "create", "11A Chemistry", "--subject", "Chemistry", "--zone", "Berlin")
    slug, code = made.stdout.split()
    assert slug == "11a-chemistry"
    with school.begin() as session:
        row = classes.by_slug(session, slug)
        assert (row.name, row.subject, row.zone, row.language) == (
            "11A Chemistry",
            "Chemistry",
            "Europe/Berlin",
            "en",
        )
        found = _look(session, code)
        assert found is not None
        assert (found.kind, found.class_id, found.uses_left) == (CodeKind.TEACHER, row.id, 1)


def test_a_class_can_be_created_for_a_teacher_who_is_there(school):
    told = json.loads(_run("class", "create", "11B", "--teacher", "ms okafor", "--json").stdout)
    assert (told["class"], told["zone"], told["teacher_code"]) == ("11b", "Europe/London", None)
    with school.begin() as session:
        class_id = classes.by_slug(session, "11b").id
        assert [one.name for one in classes.teachers(session, class_id or 0)] == ["Ms Okafor"]


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--zone", "Springfield"], '"Springfield" is no single time zone. Write one such as Europe/London.'),
        (["--language", "tlh"], '"tlh" is not spoken. Choose: en, de.'),
    ],
)
def test_a_class_that_cannot_be_meant_is_refused_and_not_made(school, words, said):
    done = _run("class", "create", "11B", *words)
    assert done.exit_code == 2
    assert said in done.stderr
    assert "11b" not in _run("class", "list").stdout


def test_a_class_name_that_the_chat_refuses_is_refused_here_too(school):
    with pytest.raises(InvalidValue):
        _run("class", "create", "x" * 81)
    assert len(_run("class", "list").stdout.splitlines()) == 2


def test_classes_are_listed_for_programs_and_closed_ones_when_asked(school):
    with school.begin() as session:
        classes.close(session, 2, NOW)
    told = json.loads(_run("class", "list", "--json").stdout)
    assert [(one["class"], one["students"], one["closed_at"]) for one in told["classes"]] == [
        ("10b-physics", 1, None)
    ]
    both = json.loads(_run("class", "list", "--closed", "--json").stdout)["classes"]
    assert [one["class"] for one in both] == ["10b-physics", "10c-physics"]
    assert "10c-physics\t10C Physics\t0 students\tEurope/London\tclosed 2026-09-01" in (
        _run("class", "list", "--closed").stdout
    )


def test_a_class_is_shown_without_any_students_name(school):
    shown = _run("class", "show", "--class", "10b-physics").stdout
    assert "students\t1 joined, 1 asked at present, 1 on the roster only\n" in shown
    assert "teachers\tMs Okafor (#1)\n" in shown
    assert "next quiz\t–\n" in shown
    assert "Mira" not in shown
    assert "Noor" not in shown
    told = json.loads(_run("class", "show", "--class", "10b-physics", "--json").stdout)
    assert told["teachers"] == [{"number": "#1", "name": "Ms Okafor"}]
    assert told["quiet"] == "20:00-07:30"


def test_closing_a_class_asks_ends_its_codes_and_happens_once(school):
    with school.begin() as session:
        code = codes.issue(session, CodeKind.CLASS, now=NOW, class_id=1).text
    with pytest.raises(CommandFailed, match="Nothing was closed"):
        _run("class", "close", "--class", "10b-physics")
    assert "10B Physics is closed" in _run("class", "close", "--class", "10b-physics", "--yes").stdout
    with school.begin() as session:
        assert classes.get(session, 1).closed_at is not None
        assert _look(session, code) is None
    with pytest.raises(CommandFailed, match="is closed since"):
        _run("class", "close", "--class", "10b-physics", "--yes")


# ---------------------------------------------------------------- teachers


def test_teachers_are_listed_with_their_classes(school):
    lind = _second_teacher(school)
    shown = _run("teacher", "list").stdout.splitlines()
    assert shown == [
        f"#{lind}\tMr Lind\t10b-physics\tmay create classes",
        "#1\tMs Okafor\t10b-physics, 10c-physics",
    ]
    told = json.loads(_run("teacher", "list", "--class", "10c-physics", "--json").stdout)
    assert told == {
        "teachers": [
            {
                "number": "#1",
                "name": "Ms Okafor",
                "classes": ["10b-physics", "10c-physics"],
                "may_create_classes": False,
            }
        ]
    }


def test_the_last_teacher_of_a_class_stays(school):
    lind = _second_teacher(school)
    with pytest.raises(InvalidValue, match="last_teacher"):
        _run("teacher", "remove", "Ms Okafor", "--class", "10c-physics", "--yes")
    with pytest.raises(
        InvalidValue, match="last_teacher"
    ):  # of 10c; and 10b, where there is another, stays too
        _run("teacher", "remove", "#1", "--yes")
    with school.begin() as session:
        assert classes.teaches(session, 1, 1)
        assert classes.teaches(session, 1, 2)
        assert classes.teaches(session, lind, 1)


def test_a_removed_teacher_has_no_rights_left(school):
    lind = _second_teacher(school)
    with pytest.raises(CommandFailed, match="Nobody was removed"):
        _run("teacher", "remove", "Mr Lind")
    _run("teacher", "remove", "mr lind", "--yes")
    with school.begin() as session:
        assert not classes.teaches(session, lind, 1)
        assert people.staff(session, lind) is None
        assert people.get(session, lind).id == lind  # what was written stays


def test_a_teacher_can_go_out_of_one_class_and_keep_the_rest(school):
    lind = _second_teacher(school)
    _run("teacher", "remove", "Mr Lind", "--class", "10b-physics", "--yes")
    with school.begin() as session:
        assert not classes.teaches(session, lind, 1)
        assert people.staff(session, lind) is not None


def test_two_teachers_of_one_name_are_told_apart_by_number(school):
    with school.begin() as session:
        other = person(session, "okafor-2")
        classes.add_teacher(session, 2, other, "Ms Okafor", NOW)
    with pytest.raises(
        CommandFailed, match=rf"2 teachers are called .*#{other} \(10c-physics\). Name a number"
    ):
        _run("teacher", "remove", "Ms Okafor", "--yes")
    _run("teacher", "remove", f"#{other}", "--yes")
    with pytest.raises(CommandFailed, match="No teacher is called"):
        _run("teacher", "remove", f"#{other}", "--yes")


# ---------------------------------------------------------------- options of several commands


@pytest.mark.parametrize(
    ("text", "read"),
    [
        # Forms of ISO 8601-1:2019: a date, a local time, one with an offset, "Z".
        ("2026-12-04", datetime(2026, 12, 4, tzinfo=UTC)),
        ("2026-12-04T15:30", datetime(2026, 12, 4, 15, 30, tzinfo=UTC)),
        ("2026-12-04T15:30+01:00", datetime(2026, 12, 4, 14, 30, tzinfo=UTC)),
        ("2026-12-04T15:30:00Z", datetime(2026, 12, 4, 15, 30, tzinfo=UTC)),
    ],
)
def test_a_moment_is_read_in_utc(text, read):
    assert moment(text) == read
    assert moment(text).utcoffset() == read.utcoffset()


@pytest.mark.parametrize("text", ["", "soon", "2026-13-01", "0001-01-01T00:00+14:00"])
def test_what_is_no_moment_is_refused(text):
    with pytest.raises(click.BadParameter, match="is not a moment"):
        moment(text)


def test_a_week_is_one_of_its_year():
    # ISO 8601: 2026 has 53 weeks, 2027 has 52 (the year begins on a Thursday, and on a Friday).
    assert iso_week("2026-w53") == iso_week("2026W53") == (2026, 53)
    with pytest.raises(click.BadParameter, match="2027 has no week 53"):
        iso_week("2027-W53")
    with pytest.raises(click.BadParameter, match="is not an ISO week"):
        iso_week("week 48")


def test_a_students_name_is_not_empty():
    assert student_name("  Mira   Sorensen ") == "Mira Sorensen"
    with pytest.raises(click.BadParameter, match="the name is empty"):
        student_name(" ")


def _options() -> dict[str, list[tuple[str, click.Option]]]:
    found: dict[str, list[tuple[str, click.Option]]] = {}

    def look(name: str, command: click.Command) -> None:
        if isinstance(command, click.Group):
            context = click.Context(command)
            for inner in command.list_commands(context):
                made = command.get_command(context, inner)
                assert made is not None
                look(f"{name} {inner}", made)
            return
        for option in command.params:
            if isinstance(option, click.Option):
                found.setdefault(option.opts[0], []).append((name, option))

    look("holdfast", holdfast)
    return found


@pytest.mark.parametrize(
    ("option", "read", "least"),
    [("--as-of", moment, 8), ("--week", iso_week, 1), ("--student", student_name, 4), ("--start", moment, 1)],
)
def test_an_option_is_read_in_the_same_way_by_every_command(option, read, least):
    of = _options()[option]
    assert len(of) >= least
    assert [name for name, one in of if getattr(one.type, "func", None) is not read] == []
