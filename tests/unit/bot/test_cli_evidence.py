"""What a teacher pulls, from the command line: files that are opened again."""

from __future__ import annotations

import csv
import json
import shutil
import stat
import zipfile
from io import BytesIO, StringIO
from pathlib import Path

import click
import pytest
from click.testing import CliRunner, Result
from openpyxl import load_workbook
from sqlmodel import select

from bot.cli.group import holdfast
from bot.cli.outcome import CommandFailed
from storage.base.database import connect
from storage.tables import QuizTopic, SchoolClass, Score
from tests.servers import postgres
from tests.taught import NAMES, START, fill
from tests.xapi_rules import hold


@pytest.fixture(scope="module")
def filled(sqlite_template: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A database with a class of six, `10b`; filled once."""
    path = tmp_path_factory.mktemp("filled") / "school.db"
    shutil.copy(sqlite_template, path)
    database = connect(f"sqlite:///{path}")
    with database.begin() as session:
        fill(session)
    database.close()
    return path


@pytest.fixture
def school(filled: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Let commands work on a copy of it, in a folder of their own."""
    monkeypatch.chdir(tmp_path)
    shutil.copy(filled, tmp_path / "school.db")
    monkeypatch.setenv("HOLDFAST_DATABASE_URL", f"sqlite:///{tmp_path}/school.db")
    monkeypatch.setenv("HOLDFAST_DATA_DIR", str(tmp_path / "data"))
    return tmp_path


def run(*words: str) -> Result:
    result = CliRunner().invoke(holdfast, words)
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        raise result.exception
    return result


# ---------------------------------------------------------------- the same from every copy


@pytest.mark.server
def test_a_restored_and_a_moved_school_give_the_same_report_to_the_byte(
    school: Path, postgres_server: postgres.Server, monkeypatch: pytest.MonkeyPatch
) -> None:
    moved, restored = postgres_server.empty(), postgres_server.empty()
    run("backup", "saved.backup")
    run("db", "copy", f"sqlite:///{school}/school.db", moved)
    reports = [_report("original")]
    monkeypatch.setenv("HOLDFAST_DATABASE_URL", f"sqlite:///{school}/restored.db")
    run("restore", "saved.backup")
    reports.append(_report("restored"))
    monkeypatch.setenv("HOLDFAST_DATABASE_URL", moved)
    run("backup", "moved.backup")
    reports.append(_report("moved"))
    monkeypatch.setenv("HOLDFAST_DATABASE_URL", restored)
    run("restore", "moved.backup")
    reports.append(_report("moved-and-restored"))
    for url in (moved, restored):
        postgres_server.drop(url)
    assert {Path(name).suffix for name in reports[0]} == {".txt", ".png", ".xlsx", ".csv"}
    assert reports.count(reports[0]) == 4


def _report(folder: str) -> dict[str, bytes]:
    run("report", "--class", "10b", "--out", folder, *AS_OF)
    return {path.name: path.read_bytes() for path in Path(folder).iterdir()}


# ---------------------------------------------------------------- learning records


def test_learning_records_are_written_for_other_programs_and_name_nobody(school: Path) -> None:
    done = run("export", "--class", "10b", "--records", "--out", "records")
    files = {path.name: path for path in (school / "records").iterdir()}
    assert sorted(files) == [
        "10b-answers.csv",
        "10b-answers.jsonl",
        "10b-question-sheet.csv",
        "10b-questions.csv",
        "data-dictionary.csv",
    ]
    assert all(f"records/{name}" in done.stdout for name in files)
    assert {stat.S_IMODE(path.stat().st_mode) for path in files.values()} == {0o600}
    statements = [json.loads(line) for line in files["10b-answers.jsonl"].read_text("utf-8").splitlines()]
    hold(statements)
    assert statements
    everything = "".join(path.read_text("utf-8") for path in files.values())
    assert not any(name in everything for name in NAMES)
    assert "Students appear under pseudonyms" in done.stderr


def test_the_table_has_a_row_for_every_statement_and_a_meaning_for_every_column(school: Path) -> None:
    run("export", "--class", "10b", "--records")
    table, meanings = (
        list(csv.reader(StringIO((school / name).read_text("utf-8-sig"), newline="")))
        for name in ("10b-answers.csv", "data-dictionary.csv")
    )
    assert [row[0] for row in meanings[1:]] == table[0]
    assert all(row[2] for row in meanings)
    answered = [row for row in table[1:] if row[table[0].index("verdict")]]
    assert len(answered) == len((school / "10b-answers.jsonl").read_text("utf-8").splitlines())


def test_names_are_written_where_they_are_asked_for(school: Path) -> None:
    run("export", "--class", "10b", "--records", "--names")
    actors = {
        json.loads(line)["actor"]["account"]["name"]
        for line in (school / "10b-answers.jsonl").read_text("utf-8").splitlines()
    }
    assert actors <= set(NAMES)
    assert "Mira" not in actors


def test_a_wrong_address_of_the_school_is_named_and_nothing_written(
    school: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("HOLDFAST_SCHOOL_ADDRESS", "rowan hill")
    with pytest.raises(CommandFailed, match=r'"rowan hill" is no web address.*setting school_address'):
        run("export", "--class", "10b", "--records", "--out", "records")
    assert not (school / "records").exists()


@pytest.mark.parametrize("more", [["--names"], ["--typed"], ["--records", "--student", "Ben"]])
def test_options_that_do_not_go_together_are_refused(school: Path, more: list[str]) -> None:
    refused = run("export", "--class", "10b", *more)
    assert refused.exit_code == click.UsageError.exit_code
    assert "--records" in refused.stderr


# ---------------------------------------------------------------- what is written for a class

AS_OF = ("--as-of", "2026-12-04T15:30")


def _as_of(words: list[str]) -> list[str]:
    return words if "--as-of" in words else [*words, *AS_OF]


def names(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


def test_the_report_of_a_week_is_text_picture_workbook_and_tables(school: Path) -> None:
    done = run("report", "--class", "10b", "--week", "2026-W48", "--out", "out", *AS_OF)
    week = "10b-2026-W48"
    assert names(school / "out") == sorted(
        [f"{week}-students.csv", f"{week}-topics.csv", f"{week}.png", f"{week}.txt", f"{week}.xlsx"]
    )
    assert done.stdout.startswith("10B Physics · week 48 (23–29 Nov)")
    assert load_workbook(school / "out" / f"{week}.xlsx").sheetnames[-1] == "Read me"


def test_a_report_without_files_is_the_same_text_or_figures_and_writes_nothing(school: Path) -> None:
    for words in (["--class", "10b"], ["--class", "10b", "--json"], ["--all", "--json"]):
        written = run("report", *words, "--out", "out", *AS_OF)
        shutil.rmtree(school / "out")
        shown = run("report", *words, "--out", "out", "--no-files", *AS_OF)
        assert shown.stdout == written.stdout
        assert not (school / "out").exists()
        assert "written" not in shown.stderr.lower()
    told = run("report", "--all", "--no-files", *AS_OF)
    assert told.stdout.startswith("10B Physics")
    assert "1 of 1 classes shown" in told.stderr


def test_the_report_as_json_has_the_figures_of_its_papers(school: Path) -> None:
    told = json.loads(run("report", "--class", "10b", "--out", "out", "--json", *AS_OF).stdout)
    assert (told["class"], told["year"], told["week"], told["first_day"]) == (
        "10b",
        2026,
        48,
        "2026-11-23",
    )
    text = (school / "out" / "10b-2026-W48-students.csv").read_text("utf-8-sig")
    rows = {row["Student"]: row for row in csv.DictReader(StringIO(text))}
    assert {one["name"] for one in told["students"]} == set(rows)
    for one in told["students"]:
        row = rows[one["name"]]
        assert [one["asked"], one["on_time"]] == [int(row["Asked"]), int(row["On time"])]
    assert told["generated_at"] == "2026-12-04T15:30:00+00:00"


def test_reports_of_all_classes_as_json_are_an_object_a_line(school: Path) -> None:
    del school
    lines = run("report", "--all", "--out", "out", "--json", *AS_OF).stdout.splitlines()
    assert [json.loads(line)["class"] for line in lines] == ["10b"]


def test_a_terminal_is_told_how_far_the_report_is(school: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("click._termui_impl.isatty", lambda _stream: True)
    done = run("report", "--class", "10b", "--out", "out", *AS_OF)
    at = [done.stderr.index(step) for step in ("opening", "reading", "predicting", "writing", "Written into")]
    assert at == sorted(at)
    assert "opening" not in done.stdout


def test_the_forecast_is_text_picture_and_workbook(school: Path) -> None:
    done = run("forecast", "--class", "10b", "--out", "out", *AS_OF)
    assert names(school / "out") == [f"10b-forecast-2026-12-11.{end}" for end in ("png", "txt", "xlsx")]
    assert "Fri 11 Dec" in done.stdout


@pytest.mark.parametrize(
    ("words", "files", "says"),
    [
        (
            ["starter", "--questions", "3"],
            [
                "10b-starter-2026-12-07-answers-1.png",
                "10b-starter-2026-12-07-questions-1.png",
                "10b-starter.txt",
            ],
            "Starter for 10B Physics",
        ),
        (["quality"], ["10b-quality.txt", "10b-questions.xlsx"], "10B Physics"),
        (
            ["comparison", "--date", "2026-11-27"],
            ["10b-comparison.txt", "10b-quiz-2026-11-27.png", "10b-quiz-2026-11-27.xlsx"],
            "quiz of Fri 27 Nov",
        ),
        (["illustration"], ["10b-illustration.png", "10b-illustration.txt"], "10B Physics"),
        (["letters", "--html"], ["10b-letters.html", "10b-letters.txt"], "One page per student"),
        (["letters", "--html", "--student", "ben"], ["10b-letters.html", "10b-letters.txt"], "One page"),
        (["progress", "--student", "Ben"], ["10b-my-topics.png", "10b-progress.txt"], "Density"),
    ],
)
def test_everything_a_teacher_pulls_is_written(
    school: Path, words: list[str], files: list[str], says: str
) -> None:
    done = run(*words, "--class", "10b", "--out", "out", *AS_OF)
    assert names(school / "out") == files
    assert says in done.stdout
    assert all((school / "out" / name).stat().st_size for name in files)


def test_a_letter_of_one_student_is_of_nobody_else(school: Path) -> None:
    run("letters", "--html", "--class", "10b", "--student", "Ben", *AS_OF)
    page = (school / "10b-letters.html").read_text("utf-8")
    assert page.count('<section class="letter">') == 1
    assert "Amira" not in page


def test_without_the_library_for_pdfs_letters_are_html_and_it_is_said(
    school: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("bot.evidence.student.letter_pdf.LIBRARY", "a_library_that_is_not_there")
    done = run("letters", "--class", "10b", *AS_OF)
    assert (school / "10b-letters.html").exists()
    assert "PDFs need the optional library a_library_that_is_not_there" in done.stderr
    assert "deploy/requirements-pdf.txt" in done.stderr


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (["comparison", "--date", "2026-11-26"], "There was no quiz on 2026-11-26."),
        (["letters", "--student", "Zoe", "--html"], "Nobody in 10B is called “Zoe”."),
        (["forecast", "--date", "2026-12-01"], "2026-12-01 is over."),
        (["starter", "--as-of", "2026-10-01"], "Nothing has been taught yet"),
    ],
)
def test_what_cannot_be_made_is_named_and_nothing_written(
    school: Path, words: list[str], sentence: str
) -> None:
    with pytest.raises(CommandFailed, match=sentence):
        run(*_as_of(words), "--class", "10b", "--out", "out")
    assert not (school / "out").exists()


def test_scores_of_a_quiz_without_topics_have_nothing_to_be_compared_with(school: Path) -> None:
    database = connect(f"sqlite:///{school}/school.db")
    with database.begin() as session:
        for row in session.exec(select(QuizTopic).where(QuizTopic.quiz_id == 1)).all():
            session.delete(row)
        for score in session.exec(select(Score)).all():
            score.topic_id = None
    database.close()
    with pytest.raises(CommandFailed, match="None of the scores is of a topic that had been taught"):
        run("comparison", "--class", "10b", "--out", "out", *AS_OF)


def test_every_class_is_written_into_a_folder_of_its_own_and_what_cannot_be_is_named(school: Path) -> None:
    database = connect(f"sqlite:///{school}/school.db")
    with database.begin() as session:
        session.add(SchoolClass(name="9C", slug="9c", zone="Europe/London", created_at=START))
    database.close()
    done = run("starter", "--all", "--out", "out", *AS_OF)
    assert names(school / "out") == ["10b"]
    assert "1 of 2 classes written" in done.stderr
    assert "9c: Nothing has been taught yet" in done.stderr


def test_questions_are_written_without_names_as_a_sheet_and_as_a_package(school: Path) -> None:
    done = run("export", "--class", "10b", "--questions", "--out", "mine")
    files = {path.name: path.read_bytes() for path in (school / "mine").iterdir()}
    assert sorted(files) == ["10b-questions-qti.zip", "10b-questions.csv"]
    assert all(f"mine/{name}" in done.stdout for name in files)
    with zipfile.ZipFile(BytesIO(files["10b-questions-qti.zip"])) as package:
        items = [name for name in package.namelist() if name.startswith("items/")]
        everything = b"".join(map(package.read, package.namelist())) + files["10b-questions.csv"]
    rows = list(csv.reader(StringIO(files["10b-questions.csv"].decode("utf-8-sig"), newline="")))
    assert len(items) + done.stderr.count("Not in the package") == len(rows) - 1 > 0
    assert not any(name.encode() in everything for name in NAMES)


def test_questions_are_of_a_whole_class(school: Path) -> None:
    done = run("export", "--class", "10b", "--questions", "--records")
    assert (done.exit_code, "whole class" in done.stderr) == (2, True)
