"""``holdfast evaluate``: a record of answers in, a table, predictions and a picture out; bad rows are named."""

import csv
from pathlib import Path

import pytest
from click.testing import CliRunner

from bot.cli.evaluate import read_log
from bot.cli.group import holdfast
from bot.cli.outcome import PROBLEMS, CommandFailed

ROWS = [
    f"{who},{what},2026-09-{day:02d}T18:00:00Z,{right}"
    for who in ("Ada", "Ben", "Cem")
    for what in ("Forces", "Springs")
    for day, right in ((1, 1), (3, 0), (7, 1), (15, int(who != "Cem")))
]


@pytest.fixture(autouse=True)
def _elsewhere(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)


def _run(text: str, *more: str):
    Path("answers.csv").write_text(text, "utf-8")
    done = CliRunner().invoke(holdfast, ["evaluate", "answers.csv", *more])
    if isinstance(done.exception, CommandFailed):
        return done.exception.code, done.stdout, str(done.exception)
    assert done.exception is None, done.exception
    return done.exit_code, done.stdout, done.stderr


def test_a_record_is_compared_and_written_out():
    code, out, err = _run("learner,topic,when,right\n" + "\n".join(ROWS), "--out", "evaluation")
    assert code == 0
    assert out.startswith("18 answers of 3 learners\n")
    assert "Predicting 24 events" in err
    files = {path.name: path for path in Path("evaluation").iterdir()}
    assert sorted(files) == ["calibration.png", "evaluation.txt", "predictions.csv"]
    rows = list(csv.DictReader(files["predictions.csv"].read_text("utf-8").splitlines()))
    assert len(rows) == 18
    assert all(0.0 < float(row["holdfast"]) < 1.0 for row in rows)


@pytest.mark.parametrize(
    ("row", "said"),
    [
        (
            "Ada,Forces,yesterday,1",
            'Row 26: when is "yesterday"; write 2026-11-30T18:05:00Z, or seconds since 1970.',
        ),
        ("Ada,Forces,2026-09-20T18:00:00Z,maybe", 'Row 26: right is "maybe"; write 1 or 0.'),
        ("Ada,Forces,nan,1", 'Row 26: when is "nan"; write 2026-11-30T18:05:00Z, or seconds since 1970.'),
        ("Ada,Forces,1788000000000,1", 'Row 26: when is "1788000000000"; write 2026-11-30T18:05:00Z'),
        (",Forces,2026-09-20T18:00:00Z,1", "Row 26: learner and topic (or item) may not be empty."),
        ("Ada,Forces,2026-09-20T18:00:00Z,", "Row 26: right is empty"),
    ],
)
def test_a_row_that_cannot_be_read_is_named_and_nothing_is_evaluated(row, said):
    code, out, err = _run("learner,topic,when,right\n" + "\n".join([*ROWS, row]), "--out", "evaluation")
    assert (code, out) == (PROBLEMS, "")
    assert said in err
    assert not Path("evaluation").exists()


def test_missing_columns_are_named():
    code, _, err = _run("who,what\nAda,Forces\n")
    assert code == PROBLEMS
    assert err == (
        "answers.csv has no column learner, when, right, topic (or item). "
        "Row 1 names the columns: learner, topic, when, right."
    )


def test_seconds_exposures_chances_and_the_own_export_are_read():
    Path("a.csv").write_text(
        "student,topic,question_id,answered_at,verdict,exposure,chance\n"
        "Ada,Forces,,1788000000,,lesson,\n"
        "Ada,Forces,7,1788100000,right,,0.25\n"
        "Ada,Forces,8,,,,0.25\n"
        "Ada,Forces,7,1788200000,unsure,,0\n",
        "utf-8",
    )
    log = read_log(Path("a.csv"))
    assert len(log) == 3
    assert list(log.right[1:]) == [1.0, 0.0]
    assert (log.items, list(log.item)) == (("7",), [-1, 0, 0])
    assert list(log.chance) == [0.0, 0.25, 0.0]
    assert log.at[0] == pytest.approx(1788000000 / 86400)
