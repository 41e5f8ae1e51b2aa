"""A student who speaks German, from joining to the answer, and a teacher who does."""

from __future__ import annotations

import re
from datetime import timedelta

import pytest
from sqlmodel import col, select

from bot.chat.matrix.rendering import plan as on_matrix
from bot.grading.keys import AnswerKey, ChoiceKey
from bot.talk.commands import COMMANDS
from bot.words import words
from storage.files import questions, roster, scores
from storage.files.headings import Field, plain_heading
from storage.files.timetables import timetable_fields
from storage.tables import Person, SchoolClass
from tests.dialogues import (
    CHOICE,
    FORMULA,
    MONDAY,
    NUMBER,
    TEXT,
    Group,
    Stage,
    add_class,
    add_quiz,
    at,
    join,
    stage,
    teach,
    verify_dialogue,
)
from tests.teaching import School, Talker

DAY = timedelta(days=1)
BERLIN = "Europe/Berlin"
ENGLISH = re.compile(
    r"\b(the|and|you|your|is|are|of|please|type|about|right|questions?|not|done)\b", re.IGNORECASE
)
"""Words that stand in nearly every English sentence of ours and in no German one."""


def german(language: str = "de-DE") -> tuple[Stage, Group]:
    here = stage(at(MONDAY, 8, zone=BERLIN))
    here.language = language
    group = add_class(here, "10B Physik", "Frau Okafor", zone=BERLIN)
    keys: list[list[AnswerKey]] = [[CHOICE], [NUMBER], [TEXT], [FORMULA], [ChoiceKey("wahr", ("falsch",))]]
    names = ["Federn", "Dichte", "Pflanzen", "Energie", "Hebel"]
    topics = [
        teach(here, group, name, at(MONDAY - number * DAY, 10, zone=BERLIN), key)
        for number, (name, key) in enumerate(zip(names, keys, strict=True), start=2)
    ]
    add_quiz(here, group, at(MONDAY + 11 * DAY, 9, zone=BERLIN), topics)
    return here, group


def spoken(here: Stage, user: str = "mira") -> list[str]:
    """Return everything that was said and shown to press, without what teachers wrote; also as Matrix shows it."""
    said = [part for one in here.of(user) for part in (one.text, *one.labels)]
    said += [part.plain for one in here.of(user) for part in on_matrix(one.message).texts]
    return [re.sub(r", question 1\?|Because of \w+\.", "", text) for text in said]


def test_a_german_student_hears_no_english_from_joining_to_the_answer():
    here, group = german()
    verify_dialogue(
        here,
        "mira",
        [
            ("hallo", "Ich helfe Klassen, Gelerntes zu behalten"),
            ("join ABCDEFGH23", "Dieser Code öffnet nichts."),
            (f"join {group.code}", "Wiederholungshilfe für 10B Physik (Frau Okafor)"),
            ("[Mehr dazu]", "Nicht gespeichert: Telefonnummer"),
            ("ja", "Wie soll ich dich nennen?"),
            ("Mira", "Wann möchtest du deine Fragen?"),
            ("[Andere Zeit]", "Bitte tippe eine Uhrzeit"),
            ("21 Uhr", "21:00 liegt in der Ruhezeit, 20:00 bis 07:30."),
            ("18 Uhr", "Nächste Fragen: heute um 18:00."),
        ],
    )
    here.go_to(at(MONDAY, 18, 1, zone=BERLIN))
    assert "3 kurze Fragen (etwa 2 min)" in here.of("mira")[-1].text
    verify_dialogue(here, "mira", [("los", ("Begonnen: ", "1 von 3 · "))])
    answers = {
        "Dichte": "2,7 g/cm3",
        "Federn": "10 cm",
        "Pflanzen": "photosynthesis",
        "Energie": "E = m v",
        "Hebel": "wahr",
    }
    for _ in range(3):
        topic = re.search(r"von 3 · (\w+)", here.of("mira")[-1].text)
        assert topic is not None
        here.say("mira", answers[topic[1]])
    verify_dialogue(
        here,
        "mira",
        [
            ("why now", "hattest du zuletzt vor"),
            ("help", "die Sprache, in der ich schreibe"),
            ("pause 10 Tage", "Pause bis Do., 10. Dez. Tippe resume"),
            ("resume", "Gut, ich mache weiter."),
            ("report", "Das habe ich nicht verstanden."),
            ("quiet", "mit aus gelten nur die der Klasse"),
            ("aus", "Es gelten die Ruhezeiten deiner Klasse."),
            ("time 6:00", "6:00 liegt in der Ruhezeit"),
            ("zone Atlantis", "kenne ich nicht"),
            ("erase", "Das lässt sich nicht rückgängig machen."),
            ("nein", "Gut, alles bleibt, wie es ist."),
        ],
    )
    here.say("mira", "progress")
    here.work()
    assert [text for text in spoken(here) if ENGLISH.search(text)] == []


def test_figures_have_a_decimal_comma_and_are_read_with_one():
    here = stage(at(MONDAY, 8, zone=BERLIN))
    here.language = "de"
    group = add_class(here, "10B Physik", zone=BERLIN)
    teach(here, group, "Dichte", at(MONDAY - DAY, 10, zone=BERLIN), [NUMBER])
    join(here, group, "mira")
    here.go_to(at(MONDAY, 18, 1, zone=BERLIN))
    here.press("mira", "Anfangen")
    said = here.say("mira", "2,5 g/cm³")
    assert "Geschrieben hast du 2,5 g/cm³; richtig ist 2,7 g/cm³." in said[0].text


@pytest.mark.parametrize(
    ("typed", "verdict"), [("wahr", "✓ Richtig"), ("falsch", "✗ Diesmal nicht"), ("Wahr.", "✓ Richtig")]
)
def test_true_and_false_are_answered_by_their_words(typed: str, verdict: str):
    here = stage(at(MONDAY, 8, zone=BERLIN))
    here.language = "de"
    group = add_class(here, "10B Physik", zone=BERLIN)
    teach(here, group, "Hebel", at(MONDAY - DAY, 10, zone=BERLIN), [ChoiceKey("wahr", ("falsch",))])
    teach(here, group, "Ja oder nein", at(MONDAY - DAY, 11, zone=BERLIN), [ChoiceKey("ja", ("nein",))])
    join(here, group, "mira")
    here.go_to(at(MONDAY, 18, 1, zone=BERLIN))
    here.press("mira", "Anfangen")
    words_of = {"wahr": "ja", "falsch": "nein", "Wahr.": "Ja."}
    for _ in range(2):
        first = "Hebel" in here.of("mira")[-1].text
        said = here.say("mira", typed if first else words_of[typed])
        assert verdict in said[0].text


def first_of_menu(here: Stage) -> str:
    menu = here.of("mira")[-1].message.menu
    assert menu
    return menu[0].description


def test_the_platforms_language_is_taken_on_joining_and_the_own_choice_stands_above_it():
    here, group = german("de-AT")
    join(here, group, "mira")
    assert (
        here.run(lambda s: s.exec(select(Person).order_by(col(Person.id).desc())).first()).language == "de-AT"
    )
    verify_dialogue(here, "mira", [("language", "Welche Sprache?"), ("[English]", "I write in English")])
    assert first_of_menu(here) == "join a class with its code"
    verify_dialogue(
        here, "mira", [("why", "I have not asked you anything"), ("language deutsch", "Ab jetzt")]
    )
    assert first_of_menu(here) == "mit dem Code in eine Klasse kommen"


def test_where_the_platforms_language_is_not_spoken_the_classs_is():
    here, group = german("tr")
    here.run(lambda s: setattr(s.get(SchoolClass, group.id), "language", "de"))
    (said,) = here.say("mira", f"join {group.code}")
    assert "Wiederholungshilfe" in said.text


# ---------------------------------------------------------------- a teacher


@pytest.fixture
def teacher(school: School) -> Talker:
    talker = school.teacher()
    talker.says("language Deutsch")
    return talker


def test_a_german_teacher_works_in_german(school: School, teacher: Talker):
    heard = [
        teacher.says("create 9A Chemie"),
        teacher.presses("Weglassen"),
        teacher.says("Frau Okafor"),
        teacher.says("Wien"),
        teacher.says("Berlin"),
        teacher.says(
            "Neues Thema: Säuren\nHausaufgabe: Seite 12\nTest: 11. Dez\nIst Essig sauer? / ja / nein"
        ),
        teacher.says("add Säuren"),
        teacher.says("Wie viel g hat 1 kg? / 1000\nEinheit: g\nweil: kilo heißt tausend"),
        teacher.presses("Das ist alles"),
        teacher.says("rules permission ja"),
        teacher.says("rules allowance keine"),
        teacher.says("rules quiet 21:00 bis 7:00"),
        teacher.says("rules nudge 22:00"),
        teacher.says("rules nudges 5"),
        teacher.says("quiz"),
        teacher.says("holiday 21. Dez - 3. Jan Weihnachtsferien"),
        teacher.says("holiday irgendwann"),
        teacher.says("undo"),
        teacher.says("students"),
        teacher.says("homework"),
        teacher.says("topics"),
        teacher.says("code"),
        teacher.says("invite"),
        teacher.says("undo"),
        teacher.says("help"),
        teacher.says("erase"),
        teacher.says("close"),
        teacher.presses("Behalten"),
        teacher.says("Guten Morgen"),
    ]
    for pull in ("report", "forecast", "starter", "quality"):
        teacher.says(pull)
        heard.append(teacher.hears(school.work()))
    words_to_type = rf"^({'|'.join(command.word for command in COMMANDS)})  "
    english = re.compile(r"\b(the|and|you|your|are|of|please|type|about|questions|not|lies|allowed)\b")
    assert [
        text for text in heard if english.search(re.sub(words_to_type, "", text, flags=re.MULTILINE))
    ] == []
    assert "22:00 liegt in der Ruhezeit" in heard[12]
    assert all(heard)


def test_what_is_wrong_with_a_file_is_said_in_german(school: School, teacher: Talker):
    plan = """Datum;Thema;Art;Hausaufgabe
01.12.2026;Laugen;Stunde;S. 12
31.11.2026;Salze;;
03.12.2026;;;
04.12.2026;Ionen;Ausflug;
Fr 05.12.2026;Atome;;
11.12.2026;Test 1;Test;
21.12.2026 - 03.01.2027;Weihnachten;Ferien;
"""
    said = teacher.sends("plan.csv", plan.encode())
    for part in (
        "Zeile 3, Spalte „Datum“ (A): „31.11.2026“ ist kein Tag, den es gibt. Schreiben Sie Tag.Monat.Jahr, "
        "zum Beispiel 30.11.2026.",
        "Zeile 4, Spalte „Thema“ (B): hier steht nichts. Schreiben Sie ein Thema, oder löschen Sie die Zeile.",
        "„Ausflug“ ist keine Art von Eintrag",
        "ist ein Samstag",
        "1 Stunde, 1 Test, 1 Ferienzeit",
    ):
        assert part in said
    teacher.presses("Die anderen")
    sheet = """Thema;Frage;Antwort;falsche Antworten;Einheit;Toleranz;Erklärung
Laugen;pH?;7;;zorkel;;
Laugen;Was ist NaOH?;Lauge;Lauge|Salz;;;
Laugn;Was?;Salz;;;;
"""
    said = teacher.sends("fragen.csv", sheet.encode())
    assert 'Die Einheit "zorkel" kenne ich nicht.' in said
    assert "ist dieselbe wie" in said
    assert "(meinten Sie „Laugen“?)" in said
    assert not re.search(r"\b(the|row|column|not|Write)\b", said)
    teacher.says("cancel")
    said = teacher.says("add Laugen") + teacher.says("Wie schwer? / 3 / 4\nToleranz: viel")
    assert "„viel“ ist keine Toleranz." in said


def test_a_day_that_can_be_read_in_two_ways_is_asked_about_in_german(school: School, teacher: Talker):
    said = teacher.sends("plan.csv", b"Datum,Thema\n03/04/2027,Laugen\n05/06/2027,Salze\n")
    assert "kann 3. April oder 4. März sein; ebenso die Tage in 1 weiterer Zeile" in said
    assert [button.label for button in teacher.buttons()][:2] == ["3. April", "4. März"]


@pytest.mark.parametrize(
    ("fields", "headings"),
    [
        (timetable_fields.FIELDS, "Datum Thema Art Hausaufgabe"),
        (questions.FIELDS, "Thema Frage Antwort falsche_Antworten Einheit Toleranz Erklärung"),
        (roster.FIELDS, "Name"),
        (scores.FIELDS, "Name Test Punkte von"),
    ],
)
def test_the_headings_that_the_help_names_are_understood(fields: tuple[Field, ...], headings: str):
    said = words("de").text("teacher.upload_help", name="10B")
    known = {word for field in fields for word in field.words}
    for heading in headings.split():
        written = heading.replace("_", " ")
        assert plain_heading(written) in known
        assert written in said


def test_a_class_that_is_made_in_german_speaks_german(school: School, teacher: Talker):
    teacher.says("create 9A Chemie")
    teacher.presses("Weglassen")
    teacher.says("Frau Okafor")
    teacher.says("Berlin")
    with school.db.begin() as session:
        made = session.exec(select(SchoolClass).where(SchoolClass.name == "9A Chemie")).one()
        assert made.language == "de"


def test_the_own_data_has_german_headings(school: School, teacher: Talker):
    from storage.tables import Blob

    teacher.says("data")
    school.work()
    with school.db.begin() as session:
        files = [blob.data.decode() for blob in session.exec(select(Blob))]
    (readable,) = [text for text in files if not text.startswith("{")]
    assert f"\n{words('de').text('account.stored.teaching')}\n" in readable
