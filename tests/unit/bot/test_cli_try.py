"""``holdfast try``: a sheet graded on typed answers; what it prints as JSON is read by scripts and does not change."""

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from bot.cli.group import holdfast
from bot.cli.outcome import PROBLEMS, CommandFailed

SHEET = """topic,question,A,B,C,D,Correct
Forces,Unit of force?,joule,newton,watt,pascal,B
Forces,Is weight a force?,,,,,true
Forces,Density of aluminium?,,,,,2.7 g/cm³
Forces,Force that slows a sledge?,,,,,friction
Energy,Kinetic energy?,,,,,$\\frac{1}{2}mv^2$
"""


@pytest.fixture(autouse=True)
def _elsewhere(tmp_path, monkeypatch):
    """Run the command in an empty folder: it needs neither database nor settings."""
    monkeypatch.chdir(tmp_path)


def _try(answers: str, *more: str, sheet: str = SHEET) -> tuple[int, str, str]:
    Path("sheet.csv").write_text(sheet, "utf-8")
    Path("typed.csv").write_text(answers, "utf-8")
    done = CliRunner().invoke(holdfast, ["try", "sheet.csv", "typed.csv", *more])
    if isinstance(done.exception, CommandFailed):
        return done.exception.code, done.stdout, done.stderr + str(done.exception)
    assert done.exception is None, done.exception
    return done.exit_code, done.stdout, done.stderr


@pytest.mark.parametrize(
    ("question", "typed", "verdict"),
    [
        ("Unit of force?", "A!", "wrong"),
        ("Unit of force?", "Antwort B", "right"),
        ("Unit of force?", "(2)", "right"),
        ("Unit of force?", "newton (N)", "right"),
        ("Unit of force?", "newton (joule)", "unreadable"),
        ("Unit of force?", "E", "unreadable"),
        ("Is weight a force?", "T", "right"),
        ("Is weight a force?", "falsch", "wrong"),
        ("density of  aluminium?", '"2,7 g/cm3"', "right"),
        ("Density of aluminium?", "2.7", "unreadable"),
        ("Force that slows a sledge?", "fraction", "wrong"),
        ("Kinetic energy?", "mv2/2", "right"),
        ("Kinetic energy?", "", "unreadable"),
    ],
)
def test_each_answer_is_graded_as_the_chat_grades_it(question, typed, verdict):
    code, out, _ = _try(f"question,answer\n{question},{typed}\n", "--json")
    assert code == 0
    told = json.loads(out)
    assert list(told) == ["question", "answer", "verdict", "reason"]
    assert (told["question"], told["answer"]) == (question, typed.strip('"'))
    assert told["verdict"] == verdict
    assert told["reason"]


def test_without_json_it_is_read_by_people():
    code, out, _ = _try("question,answer\nUnit of force?,newton\nUnit of force?,watt\n")
    assert code == 0
    assert out.splitlines() == [
        "row 2: right      'newton' to 'Unit of force?': the same as the key; read as newton",
        "row 3: wrong      'watt' to 'Unit of force?': not the same as the key; read as watt",
        "2 answers: 1 right, 1 wrong, 0 unreadable",
    ]


def test_an_answer_to_no_question_is_named_and_the_others_are_graded():
    code, out, err = _try("question,answer\nUnit of forse?,newton\nUnit of force?,newton\n", "--json")
    assert code == PROBLEMS
    assert len(out.splitlines()) == 1
    assert 'Row 2: the sheet has no question "Unit of forse?". Did you mean "Unit of force?"?' in err


def test_a_question_of_two_topics_wants_the_topic():
    sheet = "topic,question,answer\nForces,Unit?,newton\nEnergy,Unit?,joule\n"
    code, out, err = _try("question,answer\nUnit?,joule\n", sheet=sheet)
    assert code == PROBLEMS
    assert "is asked in several topics (Forces, Energy)" in err
    code, out, _ = _try("topic,question,answer\nEnergy,Unit?,joule\n", "--json", sheet=sheet)
    assert (code, json.loads(out)["verdict"]) == (0, "right")


def test_a_sheet_with_problems_says_them_by_file_and_row():
    sheet = "topic,question,answer,kind\nForces,Unit?,newton,number\nForces,Weight of 1 kg?,9.81 N,\n"
    code, out, err = _try("question,answer\nWeight of 1 kg?,9.8 N\nUnit?,newton\n", "--json", sheet=sheet)
    assert code == PROBLEMS
    assert [json.loads(line)["question"] for line in out.splitlines()] == ["Weight of 1 kg?"]
    assert "sheet.csv: Row 2" in err


def test_a_question_with_drawn_values_is_named():
    sheet = "topic,question,answer,unit,values\nSpeed,{s} m in {t} s?,{s}/{t},m/s,s = 20..120; t in 4\n"
    code, _, err = _try("question,answer\n{s} m in {t} s?,5 m/s\n", sheet=sheet)
    assert code == PROBLEMS
    assert "sheet.csv: Row 2: the question has drawn values" in err


def test_files_that_are_none_are_refused_in_words():
    code, _, err = _try("name,given\nMira,x\n")
    assert code == PROBLEMS
    assert "typed.csv" in err
    assert "question" in err
    assert "Traceback" not in err
