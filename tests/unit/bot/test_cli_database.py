import json
import stat
from datetime import timedelta

import pytest
from click.testing import CliRunner

from bot.cli.group import holdfast
from bot.cli.outcome import CommandFailed
from bot.clock import WallClock
from storage.base.database import connect
from storage.base.errors import CopyError
from storage.queue import outbox
from storage.school import enrolments, timetable
from tests.contracts.storage_school import NOW, person, said, school_class, student


@pytest.fixture
def school(sqlite_url, tmp_path, monkeypatch):
    """A school with Mira and two students called Sam; one message waits. Commands work on it."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("HOLDFAST_DATABASE_URL", sqlite_url)
    monkeypatch.setenv("HOLDFAST_DATA_DIR", str(tmp_path / "data"))
    database = connect(sqlite_url)
    with database.begin() as session:
        group = school_class(session)
        student(session, group, "Mira")
        student(session, group, "Sam")
        enrolments.add_to_roster(session, group.id or 0, ["Noor"], NOW)
        outbox.put(session, "terminal", "chat-mira", said(), now=NOW)
    yield database
    database.close()


def _run(*words, answers=None):
    result = CliRunner().invoke(holdfast, words, input=answers)
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        raise result.exception
    return result


# ---------------------------------------------------------------- db, backup, restore


def test_upgrade_makes_a_database_and_status_counts_what_is_in_it(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("HOLDFAST_DATABASE_URL", raising=False)
    assert "is up to date" in _run("db", "upgrade").stdout
    assert "answers\t0\n" in _run("db", "status").stdout


def test_status_tells_counts_and_no_names(school):
    shown = _run("db", "status").stdout
    assert "students in classes\t3\n" in shown
    assert "messages to send\t1\tsince 2026-09-01 12:00 UTC" in shown
    assert "never; see: holdfast backup" in shown
    assert "Mira" not in shown


def test_a_backup_can_be_restored_and_sends_only_when_told(school, tmp_path, monkeypatch):
    assert "Saved" in _run("backup", "saved.backup").stdout
    assert "last backup\t20" in _run("db", "status").stdout
    assert stat.S_IMODE((tmp_path / "saved.backup").stat().st_mode) == 0o600
    monkeypatch.setenv("HOLDFAST_DATABASE_URL", f"sqlite:///{tmp_path}/new/school.db")
    assert "It sends nothing until: holdfast db release" in _run("restore", "saved.backup").stdout
    assert "sending\theld" in _run("db", "status").stdout
    with pytest.raises(CommandFailed, match="Run it again with --yes"):
        _run("db", "release")
    released = _run("db", "release", "--yes")
    assert released.stdout == "It sends from now on.\n"
    assert released.stderr == "1 messages wait to be sent.\n"
    assert "Nothing to do" in _run("db", "release").stdout


def test_nothing_is_overwritten(school):
    _run("backup", "saved.backup")
    with pytest.raises(CopyError, match="exists already; nothing was overwritten"):
        _run("backup", "saved.backup")
    with pytest.raises(CopyError, match="exists already; nothing was overwritten"):
        _run("restore", "saved.backup")


def test_keep_deletes_older_backups_and_nothing_else(school, tmp_path):
    folder = tmp_path / "backups"
    folder.mkdir()
    for name in ("holdfast-20260101T000000Z.backup", "holdfast-20260102T000000Z.backup", "notes.txt"):
        (folder / name).write_text("old")
    _run("backup", "backups", "--keep", "2")
    left = sorted(path.name for path in folder.iterdir())
    assert len(left) == 3
    assert left[0] == "holdfast-20260102T000000Z.backup"
    assert left[2] == "notes.txt"


def test_copy_counts_and_hashes_and_can_be_run_again(school, sqlite_url, tmp_path):
    target = f"sqlite:///{tmp_path}/moved.db"
    first = _run("db", "copy", sqlite_url, target)
    assert "enrolment\t3 rows\t" in first.stdout
    assert "\tcopied\n" in first.stdout
    assert "are the same on both sides" in first.stderr
    assert "\tcopied\n" not in _run("db", "copy", sqlite_url, target).stdout


# ---------------------------------------------------------------- export, erase


def test_export_writes_what_is_stored_about_a_student_for_the_owner_only(school, tmp_path):
    _run("export", "--class", "10b-physics", "--student", "mira", "--out", "for-mira")
    as_json, text = sorted((tmp_path / "for-mira").iterdir())
    assert json.loads(as_json.read_text("utf-8"))["enrolment"][0]["name"] == "Mira"
    assert "Mira" in text.read_text("utf-8")
    assert [stat.S_IMODE(path.stat().st_mode) for path in (as_json, text)] == [0o600, 0o600]


def test_export_of_a_class_names_everybody_in_it(school, tmp_path):
    _run("export", "--class", "10b-physics", "--out", "class")
    data = json.loads((tmp_path / "class" / "10b-physics.json").read_text("utf-8"))
    assert {row["name"] for row in data["enrolment"]} == {"Mira", "Sam", "Noor"}


@pytest.mark.parametrize(
    ("name", "sentence"),
    [
        ("Zoe", 'Nobody in 10B Physics is called "Zoe".'),
        ("Noor", "Noor has not joined yet: only this name on the roster is stored."),
    ],
)
def test_export_says_why_there_is_nothing(school, name, sentence):
    with pytest.raises(CommandFailed, match=sentence):
        _run("export", "--class", "10b-physics", "--student", name)


def test_two_students_of_one_name_are_told_apart_by_number(school):
    with school.begin() as session:
        enrolments.join(session, 1, person(session, "sam2"), "Sam", NOW)
    with pytest.raises(
        CommandFailed, match=r'2 students of 10B Physics are called "Sam": #\d+ \(since 2026-09-01\), #'
    ):
        _run("erase", "--class", "10b-physics", "--student", "Sam", "--yes")


def test_erase_asks_counts_and_says_what_cannot_be_recalled(school):
    words = ("erase", "--class", "10b-physics", "--student", "Mira")
    with pytest.raises(CommandFailed, match="Nothing was erased"):
        _run(*words)
    done = _run(*words, "--yes")
    assert "enrolment\t1\n" in done.stdout
    assert "outbox\t1\n" in done.stdout
    assert "cannot be recalled" in done.stderr
    with school.begin() as session:
        assert [row.name for row in enrolments.roster(session, 1)] == ["Noor", "Sam"]
    with pytest.raises(CommandFailed, match='Nobody in 10B Physics is called "Mira"'):
        _run(*words, "--yes")


def test_erase_by_number_and_of_a_whole_class(school):
    _run("erase", "--class", "10b-physics", "--student", "#2", "--everywhere", "--yes")
    assert "people\t2\n" in _run("db", "status").stdout
    _run("erase", "--class", "10b-physics", "--whole-class", "--yes")
    assert "classes\t0\n" in _run("db", "status").stdout


def test_erase_wants_to_know_whom(school):
    assert _run("erase", "--class", "10b-physics").exit_code == 2
    assert _run("erase", "--class", "10b-physics", "--whole-class", "--everywhere").exit_code == 2


# ---------------------------------------------------------------- import


def _coming(weekday):
    """Return the next such weekday (Monday 0) after today: the command looks at the real date."""
    today = WallClock().now().date()
    return today + timedelta(days=(weekday - today.weekday() - 1) % 7 + 1)


def test_a_timetable_with_days_without_school_is_stored_with_a_remark(school, tmp_path):
    del school
    table = tmp_path / "plan.csv"
    table.write_text(f"date,topic,kind\n{_coming(0)},Density,lesson\n{_coming(5)},Quiz 1,quiz\n")
    run = _run("import", "timetable", str(table), "--class", "10b-physics", "--yes")
    assert run.exit_code == 0
    assert 'quizzes on weekdays without school: 1, the first is "Quiz 1" on a Saturday' in run.stderr
    assert "1 lesson, 1 quiz" in run.stdout


def test_a_timetable_with_a_row_that_cannot_be_used_is_not_stored(school, tmp_path):
    del school
    table = tmp_path / "plan.csv"
    table.write_text(f"date,topic,kind\n{_coming(0)},Density,lesson\nsometime,Quiz 1,quiz\n")
    with pytest.raises(CommandFailed, match="Nothing was stored"):
        _run("import", "timetable", str(table), "--class", "10b-physics", "--yes")


def test_f21_a_doubtful_encoding_is_never_taken_by_yes(school, tmp_path):
    table = tmp_path / "plan.csv"
    table.write_bytes(f"date,topic\n{_coming(0)},Kräfte\n".encode("mac_roman"))
    into = ("--class", "10b-physics", "--yes")
    with pytest.raises(CommandFailed, match="decide as shown above") as failed:
        _run("import", "timetable", str(table), *into)
    assert failed.value.code == 3
    with school.begin() as session:
        assert timetable.topics(session, 1, NOW) == []
    settled = _run("import", "timetable", str(table), *into, "--choose", "encoding=mac_roman")
    assert settled.exit_code == 0
    with school.begin() as session:
        assert [one.name for one in timetable.topics(session, 1, NOW)] == ["Kräfte"]


def test_a_choice_without_an_answer_is_refused(school, tmp_path):
    del school
    (tmp_path / "plan.csv").write_text("date,topic\n")
    assert (
        "WHAT=HOW" in _run("import", "timetable", "plan.csv", "--class", "x", "--choose", "encoding").stderr
    )


def test_f18_a_numbered_list_is_stored_with_whole_names_and_a_note(school, tmp_path):
    table = tmp_path / "list.csv"
    table.write_text("Nr.,Name,Vorname,Klasse\n1,Adler,Lena,10b\n2,Berg,Tom Jonas,10b\n")
    run = _run("import", "roster", str(table), "--class", "10b-physics", "--yes")
    assert run.exit_code == 0
    assert 'Not read and not kept: "Nr." (A), "Klasse" (D)' in run.stderr
    with school.begin() as session:
        names = {one.name for one in enrolments.roster(session, 1)}
    assert {"Lena Adler", "Tom Jonas Berg"} <= names


def test_f20_f23_yes_never_takes_what_is_doubtful(school, tmp_path):
    """Each file is asked about: exit 3, what to decide, and nothing stored."""
    files = {
        "timetable": f"date,topic\n{_coming(0)},Density\n{_coming(1)},Flame test\n",
        "questions": "topic,question,first,second,answer\nDensity,Unit of force?,joule,newton,B\n",
        "scores": "student,score,total\nMira,12,19\nSam,15,24\n",
        "roster": "sourcedId,status,givenName,familyName\nu1,active,Lena,Adler\n",
    }
    for kind, text in files.items():
        table = tmp_path / f"{kind}.csv"
        table.write_text(text)
        with pytest.raises(CommandFailed, match="Nothing was stored") as failed:
            _run("import", kind, str(table), "--class", "10b-physics", "--yes")
        assert failed.value.code == 3
    with school.begin() as session:
        assert timetable.lessons(session, 1) == []
        assert "Lena Adler" not in {one.name for one in enrolments.roster(session, 1)}
