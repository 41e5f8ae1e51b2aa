"""What a run measured comes into its section of a page, and the prose around it stays."""

from __future__ import annotations

import os
import subprocess
import sys
from datetime import UTC, datetime
from pathlib import Path

import pytest

from tests.benchmarks import results

TOP = Path(__file__).parents[2]
PYTEST = [sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider", "-c", os.devnull]
NOW = datetime(2026, 12, 1, 12, 0, tzinfo=UTC)
PAGE = (
    "# Figures\n\nProse — with a dash.\n\n<!-- run: doses -->\n{}<!-- end of run: doses -->\n\n"
    "More.  \n<!-- run: benchmarks -->\n<!-- end of run: benchmarks -->\n"
)


@pytest.fixture
def page(tmp_path: Path) -> Path:
    path = tmp_path / "RESULTS.md"
    path.write_text(PAGE.format("old\n"), "utf-8")
    return path


def test_a_section_is_replaced_and_everything_around_it_stays_to_the_byte(page: Path) -> None:
    results.write_section(page, "doses", "| new |\n")
    assert page.read_text("utf-8") == PAGE.format("\n| new |\n\n")
    results.write_section(page, "doses", "| new |\n")
    assert page.read_text("utf-8") == PAGE.format("\n| new |\n\n")
    assert [path.name for path in page.parent.iterdir()] == ["RESULTS.md"]


@pytest.mark.parametrize(
    "text",
    ["no marks", "<!-- end of run: doses -->\n<!-- run: doses -->\n", PAGE.format("") + PAGE.format("")],
)
def test_a_page_without_the_two_marks_is_left_as_it_is(page: Path, text: str) -> None:
    page.write_text(text, "utf-8")
    with pytest.raises(results.NoSection, match="run: doses"):
        results.write_section(page, "doses", "new")
    assert page.read_text("utf-8") == text


def test_a_command_writes_what_it_says_with_command_date_and_commit(
    page: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    table = "print('| a |\\n|---|\\n| 1 |')"
    assert results.run(page, "doses", ["python", "-c", table], NOW) == 0
    text = page.read_text("utf-8")
    assert "\n| a |\n|---|\n| 1 |\n" in text
    assert "old" not in text
    assert "python -c" in text
    assert "Measured on 2026-12-01; " in text
    assert "commit " in text
    assert "| 1 |" in capsys.readouterr().out


def test_plain_lines_of_a_command_stand_in_a_block(page: Path) -> None:
    results.run(page, "doses", ["python", "-c", "print('a  b')"], NOW)
    assert "```\na  b\n```" in page.read_text("utf-8")


def test_the_programs_of_this_environment_are_found_by_their_names(
    page: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("PATH", os.defpath)
    assert results.run(page, "doses", ["pytest", "--version"], NOW) == 0
    assert "```\npytest " in page.read_text("utf-8")  # of this environment: every one for tests has it


def test_a_command_that_fails_changes_nothing(page: Path) -> None:
    assert results.run(page, "doses", ["python", "-c", "print('half'); raise SystemExit(3)"], NOW) == 3
    assert page.read_text("utf-8") == PAGE.format("old\n")


def test_a_section_that_is_missing_is_told_before_the_command_runs(
    page: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    ran = page.with_name("ran")
    assert results.main([str(page), "dose", "python", "-c", f"open({str(ran)!r}, 'w')"]) == 1
    assert not ran.exists()
    assert "doses, benchmarks" in capsys.readouterr().err


def test_benchmarks_that_did_not_run_keep_their_rows(page: Path) -> None:
    rows = {name: results.row(name, ["first"], "then", passed=True) for name in ("a.py::one", "b.py::two")}
    results.write_benchmarks(page, rows)
    results.write_benchmarks(
        page, {"b.py::two": results.row("b.py::two", ["5 | 6 < 7", "x"], "now", passed=False)}
    )
    text = page.read_text("utf-8")
    assert "| a.py::one | first | then |\n| b.py::two | 5 \\| 6 &lt; 7<br>x<br>**failed** | now |\n" in text
    assert text.count("b.py::two") == 1


def test_the_marks_of_every_documented_command_are_there() -> None:
    for name in ("simulate", "doses", "coverage"):
        page = (TOP / "scheduler/RESULTS.md").read_text("utf-8")
        results.section(page, name)
        assert f"python -m tests.benchmarks.results scheduler/RESULTS.md {name} " in page
    results.section((TOP / "tests/benchmarks/RESULTS.md").read_text("utf-8"), "benchmarks")


def test_a_run_of_benchmarks_writes_what_they_print(tmp_path: Path, page: Path) -> None:
    (tmp_path / "conftest.py").write_text("from tests.benchmarks.conftest import *  # noqa: F403\n")
    (tmp_path / "test_tiny.py").write_text(
        "def test_prints(capsys):\n    with capsys.disabled():\n        print('\\n7 ms')\n"
        "def test_misses():\n    print('3 times')\n    assert False\n"
        "def test_says_nothing(): pass\n"
    )

    def ran(*words: str) -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            [*PYTEST, f"--rootdir={tmp_path}", str(tmp_path), *words, "--write-results", str(page)],
            env=os.environ | {"PYTHONPATH": str(TOP)},
            capture_output=True,
            text=True,
            check=False,
        )

    refused = ran()
    assert refused.returncode == pytest.ExitCode.USAGE_ERROR
    assert "needs -s" in refused.stderr
    assert ran("-s").returncode == pytest.ExitCode.TESTS_FAILED
    text = page.read_text("utf-8")
    assert "| test_tiny.py::test_misses | 3 times<br>**failed** | Measured on " in text
    assert "| test_tiny.py::test_prints | 7 ms | Measured on " in text
    assert "says_nothing" not in text
