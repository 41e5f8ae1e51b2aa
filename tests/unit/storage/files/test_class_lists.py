"""Class lists as schools export them: whole names, students only."""

from __future__ import annotations

import pytest

from storage.files.roster import read_roster
from storage.files.values import Reading, RosterFile
from tests.wording import sentence as english


def read(text: str, **choices: str) -> Reading[RosterFile]:
    return read_roster(text.encode(), "list.csv", choices=choices)


def names(text: str, **choices: str) -> list[str]:
    return [one.name for one in read(text, **choices).value.students]


@pytest.mark.parametrize(
    "text",
    [
        "Nr.,Name,Vorname\n1,Adler,Mira\n2,Berg,Tom Jonas\n",
        "Nr.;Name;Vorname;Klasse\n1;Adler;Mira;10b\n2;Berg;Tom Jonas;10b\n",
        "Vorname;Name\nMira;Adler\nTom Jonas;Berg\n",
        "No;Last name;First name\n1;Adler;Mira\n2;Berg;Tom Jonas\n",
        "First name,Surname\nMira,Adler\nTom Jonas,Berg\n",
        "Last,First\nAdler,Mira\nBerg,Tom Jonas\n",
        'Name\n"Adler, Mira"\n"Berg, Tom Jonas"\n',
        '"Last, First"\n"Adler, Mira"\n"Berg, Tom Jonas"\n',
        '"Name, Vorname"\n"Adler, Mira"\n"Berg, Tom Jonas"\n',
        "Nom;Prénom\nAdler;Mira\nBerg;Tom Jonas\n",
        "Apellidos;Nombre\nAdler;Mira\nBerg;Tom Jonas\n",
        "Cognome;Nome\nAdler;Mira\nBerg;Tom Jonas\n",
        "Name;Vorname;Nachname\nMira Adler;Mira;Adler\nTom Jonas Berg;Tom Jonas;Berg\n",
        "Name;Rufname\nMira Adler;Mira\nTom Jonas Berg;Tom\n",
        "First;Middle name;Last\nMira;;Adler\nTom;Jonas;Berg\n",
    ],
)
def test_f18_no_part_of_a_name_is_lost(text: str) -> None:
    assert names(text) == ["Mira Adler", "Tom Jonas Berg"]


def test_f18_a_prefix_of_a_family_name_stands_before_it() -> None:
    assert names("Voornaam;Tussenvoegsel;Achternaam\nMira;van der;Berg\n") == ["Mira van der Berg"]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("Name;Vorname\nAdler;\n", 'only "Adler" is written, and the other part of the name is missing'),
        ("Name;Vorname\n;Mira\n", 'only "Mira" is written'),
        ('"Name, Vorname"\nAdler Mira Luisa\n', 'which part of "Adler Mira Luisa" is the first name'),
        ("Name;Vorname;Nachname\nAda;Mira;Adler\n", 'the name "Ada" and the names "Mira Adler"'),
        ("Name\nMira Adler\nAnzahl: 2\n", '"Anzahl: 2" looks like a total'),
        ("Name\nMira Adler\nTotal\n", '"Total" looks like a total'),
    ],
)
def test_f18_a_doubtful_name_is_asked_about(text: str, said: str) -> None:
    (fault,) = read(text).faults
    assert said in english(fault)


# ---------------------------------------------------------------- who is in it

# Headings as in table "users.csv" of 1EdTech, OneRoster 1.1 and 1.2, CSV bindings; persons invented.
USERS_1_1 = (
    "sourcedId,status,dateLastModified,enabledUser,orgSourcedIds,role,username,userIds,givenName,familyName,middleName,"
    "identifier,email,sms,phone,agentSourcedIds,grades,password\n"
    "u1,active,,true,o1,student,mira,,Mira,Adler,,,,,,,10,\n"
    "u2,,,true,o1,student,tom,,Tom,Berg,Jonas,,,,,,10,\n"
    "u3,tobedeleted,,true,o1,student,old,,Ole,Carl,,,,,,,10,\n"
    "u4,active,,true,o1,teacher,teach,,Rosa,Dahl,,,,,,,,\n"
)
USERS_1_2 = (
    "sourcedId,status,dateLastModified,enabledUser,username,userIds,givenName,familyName,middleName,identifier,email,"
    "sms,phone,agentSourcedIds,grades,password\n"
    "u1,active,,true,mira,,Mira,Adler,,,,,,,10,\n"
    "u4,active,,true,teach,,Rosa,Dahl,,,,,,,,\n"
)


def test_f23_a_list_of_users_gives_its_active_students_by_name() -> None:
    assert names(USERS_1_1) == ["Mira Adler", "Tom Jonas Berg"]
    said = [english(note) for note in read(USERS_1_1).notes]
    assert any('People with "tobedeleted" were left out: 1.' in one for one in said)
    assert any('People with "teacher" were left out: 1.' in one for one in said)


def test_f23_a_list_of_users_without_roles_is_asked_about() -> None:
    (question,) = read(USERS_1_2).questions
    assert "does not say who is a student" in english(question)
    assert names(USERS_1_2) == []
    assert names(USERS_1_2, people="students") == ["Mira Adler", "Rosa Dahl"]


def test_f23_an_unknown_role_is_asked_about() -> None:
    (fault,) = read("givenName,familyName,role\nMira,Adler,student\nRosa,Dahl,mascot\n").faults
    assert '"mascot" is a role that I do not know' in english(fault)


@pytest.mark.parametrize(
    "text",
    [
        "What is the unit of force?\nnewton\nWho found it?\n",
        "Unit of force? / newton\nUnit of energy? / joule\n",
        "F = m a\nE = m c^2\n",
        "Explain in one sentence why the moon does not fall down\n",
    ],
)
def test_f23_a_list_of_questions_is_no_class_list(text: str) -> None:
    reading = read(text)
    assert reading.refused
    assert "is no class list" in english(reading.problems[0])


def test_f23_a_question_among_names_is_left_out_and_named() -> None:
    reading = read("Name\nMira Adler\nWhat is force?\n")
    assert [one.name for one in reading.value.students] == ["Mira Adler"]
    assert '"What is force?" does not look like a name' in english(reading.faults[0])
