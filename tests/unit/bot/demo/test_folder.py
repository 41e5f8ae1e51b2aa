"""The demo writes into its own folder and into no other."""

import os
import subprocess
import sys
from datetime import UTC, datetime
from pathlib import Path

import pytest

from bot.demo.folder import MARK, NotADemoFolder, claim
from storage import migrations
from storage.base import key_values
from storage.base.database import connect

NOW = datetime(2026, 9, 1, 12, 0, tzinfo=UTC)


def _contents(folder: Path) -> dict[str, bytes]:
    return {
        path.relative_to(folder).as_posix(): path.read_bytes() for path in folder.rglob("*") if path.is_file()
    }


def _school(folder: Path) -> None:
    """Make what a school's bot keeps: a real database, papers and files that were sent."""
    url = f"sqlite:///{folder / 'holdfast.db'}"
    migrations.upgrade(url, now=NOW)
    db = connect(url)
    with db.begin() as session:
        key_values.put(session, "school", "kept", NOW)
    db.close()
    for name in ("papers", "sent"):
        (folder / name).mkdir()
        (folder / name / "report.txt").write_text("of a real week")


@pytest.mark.parametrize("more", [[], ["--continue"]], ids=["clean", "continued"])
def test_f01_a_demo_leaves_a_real_database_and_its_papers_alone(tmp_path, more):
    _school(tmp_path)
    before = _contents(tmp_path)
    words = [
        sys.executable,
        "-c",
        "from bot.cli import main; main()",
        "demo",
        "--weeks",
        "1",
        "--out",
        str(tmp_path),
    ]
    done = subprocess.run(
        [*words, *more], stdin=subprocess.DEVNULL, capture_output=True, text=True, check=False, env=os.environ
    )
    assert done.returncode == 1
    assert done.stderr == (
        f"The folder {tmp_path} was not made by a demo and is not empty (it holds holdfast.db, papers, sent), so "
        "nothing was written there. Name an empty or a new folder: holdfast demo --out FOLDER\n"
    )
    assert _contents(tmp_path) == before
    db = connect(f"sqlite:///{tmp_path / 'holdfast.db'}")
    with db.reading() as session:
        assert key_values.get(session, "school") == "kept"
    db.close()


def test_f01_try_sh_names_its_folder_to_the_same_command():
    script = (Path(__file__).parents[4] / "deploy/try.sh").read_text()
    assert "holdfast demo --out try-out" in script
    assert not any(word in script.split() for word in ("rm", "mv", "cp"))


@pytest.mark.parametrize("held", ["holdfast.db", "notes.txt", ".hidden", "papers/report.txt"])
@pytest.mark.parametrize("go_on", [False, True])
def test_a_folder_with_anything_in_it_is_refused(tmp_path, held, go_on):
    (tmp_path / held).parent.mkdir(exist_ok=True)
    (tmp_path / held).write_text("mine")
    with pytest.raises(NotADemoFolder, match="was not made by a demo"):
        claim(tmp_path, go_on=go_on)
    assert _contents(tmp_path) == {held: b"mine"}


@pytest.mark.parametrize("there", [True, False])
def test_a_new_or_empty_folder_is_taken_and_marked(tmp_path, there):
    out = tmp_path if there else tmp_path / "a" / "b"
    claim(out, go_on=False)
    assert [path.name for path in out.iterdir()] == [MARK]


def test_its_own_folder_is_cleared_of_what_it_wrote_and_of_nothing_else(tmp_path):
    claim(tmp_path, go_on=False)
    for name in ("papers", "sent"):
        (tmp_path / name).mkdir()
        (tmp_path / name / "old.txt").write_text("old")
    for name in ("holdfast.db", "holdfast.db-wal", "notes.txt"):
        (tmp_path / name).write_text("x")
    claim(tmp_path, go_on=True)
    assert "holdfast.db" in _contents(tmp_path)
    claim(tmp_path, go_on=False)
    assert set(_contents(tmp_path)) == {MARK, "notes.txt"}
