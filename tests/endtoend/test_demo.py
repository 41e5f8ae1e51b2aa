"""The README's first command, for a week and then one more: the real program, the invented school, the papers."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from openpyxl import load_workbook
from sqlmodel import col, func, select

from bot.demo.school import content
from storage.base.database import Database, connect
from storage.files.roster import read_roster
from storage.tables import Answer, Enrolment, Nudge, Review

LONDON = ZoneInfo("Europe/London")


def demo(folder: Path, *more: str) -> subprocess.CompletedProcess[str]:
    program = "from bot.cli.group import holdfast; holdfast()"
    words = [sys.executable, "-c", program, "demo", "--out", str(folder), *more]
    return subprocess.run(
        words,
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        timeout=240,
        check=False,
        env=os.environ,
    )


def answered(db: Database) -> int:
    with db.reading() as session:
        return session.exec(select(func.count()).select_from(Answer)).one()


@pytest.mark.slow
def test_the_demo_plays_a_week_leaves_its_papers_and_goes_on_where_it_stopped(tmp_path: Path) -> None:
    done = demo(tmp_path, "--weeks", "1")
    assert done.returncode == 0, done.stderr
    papers = tmp_path / "papers"
    assert {path.suffix for path in papers.iterdir()} == {".txt", ".png", ".xlsx", ".csv"}
    (report,) = (path for path in papers.glob("*.xlsx") if "forecast" not in path.name)
    assert load_workbook(report).sheetnames[-1] == "Read me"
    db = connect(f"sqlite:///{tmp_path / 'holdfast.db'}")
    before = answered(db)
    assert before > 0
    done = demo(tmp_path, "--weeks", "2", "--continue")
    assert done.returncode == 0, done.stderr
    assert answered(db) > before
    names = {row.name for row in read_roster(content("roster.csv"), "roster.csv").value.students}
    with db.reading() as session:
        assert set(session.exec(select(Enrolment.name))) == names
        sent = [at.astimezone(LONDON) for at in session.exec(select(Nudge.sent_at)) if at is not None]
        asked = session.exec(
            select(Review.enrolment_id, Review.question_id, Review.asked_at).where(
                col(Review.asked_at).is_not(None)
            )
        ).all()
    db.close()
    assert all(8 <= at.hour < 20 and at.weekday() < 5 for at in sent)
    assert len(asked) == len(set(asked)), "a question was asked twice at once"
