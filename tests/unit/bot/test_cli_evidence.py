"""What a teacher pulls, from the command line: files that are opened again."""

from __future__ import annotations

import csv
import json
import shutil
import stat
from io import StringIO
from pathlib import Path

import click
import pytest
from click.testing import CliRunner, Result

from bot.cli.group import holdfast
from bot.cli.outcome import CommandFailed
from storage.database import connect
from tests.taught import NAMES, fill
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


# ---------------------------------------------------------------- learning records


def test_learning_records_are_written_for_other_programs_and_name_nobody(school: Path) -> None:
    done = run("export", "--class", "10b", "--records", "--out", "records")
    files = {path.name: path for path in (school / "records").iterdir()}
    assert sorted(files) == [
        "10b-answers.csv",
        "10b-answers.jsonl",
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
