"""German: why something was refused."""

from __future__ import annotations

from collections.abc import Mapping

TEXTS: Mapping[str, str | Mapping[str, str]] = {
    # classes and people
    "refusal.not_teacher": "Nur Lehrkräfte einer Klasse können sie sehen oder ändern.",
    "refusal.not_yours": "Das gehört jemand anderem.",
    "refusal.class_name": "Eine Klasse braucht einen Namen mit 1 bis {most} Zeichen, zum Beispiel 10B Physik.",
    "refusal.class_ended": "Diese Klasse ist beendet.",
    "refusal.last_teacher": (
        "Die letzte Lehrkraft einer Klasse kann nicht gehen. Zuerst muss eine andere dazukommen."
    ),
    "refusal.only_teacher": (
        "{name} hat keine andere Lehrkraft. Zuerst muss eine dazukommen oder die Klasse beendet sein, dann geht das "
        "Löschen."
    ),
    "refusal.not_teaching": "Diese Person unterrichtet die Klasse nicht.",
    "refusal.both_in_class": (
        "Auf beiden Plattformen besteht ein Platz in derselben Klasse. Bitte zuerst auf einer davon verlassen."
    ),
    "refusal.person_name": "Ein Name hat 1 bis {most} Zeichen. Ein Vorname genügt.",
    "refusal.name_taken": "Dieser Name auf der Klassenliste ist schon vergeben. Bitte frag deine Lehrkraft.",
    "refusal.not_asked": "Pause machen kann nur, wer gerade gefragt wird.",
    # times
    "refusal.own_quiet_hours": "{at} liegt in der Ruhezeit, {start} bis {end}. Bitte wähle eine andere Zeit.",
    "refusal.class_quiet_hours": (
        "{at} liegt in der Ruhezeit, {start} bis {end}. Wählen Sie eine andere Zeit, oder ändern Sie die Ruhezeit."
    ),
    "refusal.quiet_needs_both": "Eine Ruhezeit braucht Anfang und Ende.",
    "refusal.zone": "„{found}“ ist keine Zeitzone. Bitte Region und Stadt schreiben, zum Beispiel Europe/Berlin.",
    # rules
    "refusal.cap": "{nudges} mal {questions} Fragen sind {a_day} am Tag; höchstens {most} sind erlaubt.",
    "refusal.rule_questions_per_nudge": "{low} bis {most} Fragen auf einmal sind möglich, {most} am Tag insgesamt.",
    "refusal.rule_nudges_per_day": "Fragen können {low}- bis {most}-mal am Tag kommen.",
    "refusal.rule_term_allowance": "Die Grenze im Halbjahr ist eine Zahl von {low} bis {most}, oder keine.",
    "refusal.rule_target": "Ein Ziel liegt zwischen {low} und {most} Prozent, oder keines.",
    "refusal.lesson_hours": "Eine Stunde muss nach ihrem Anfang enden, am selben Tag.",
    # what is not there
    "refusal.no_lesson": "Diese Stunde gibt es in der Klasse nicht.",
    "refusal.no_topic": "Dieses Thema gibt es in der Klasse nicht.",
    "refusal.no_quiz": "Diesen Test gibt es in der Klasse nicht.",
    "refusal.no_holiday": "Diese Ferien gibt es in der Klasse nicht.",
    "refusal.no_student": "Diese Person gibt es in der Klasse nicht.",
    "refusal.no_class": "Diese Klasse gibt es nicht.",
    "refusal.no_question": "Diese Frage gibt es in der Klasse nicht, oder sie wurde zurückgezogen.",
    "refusal.no_upload": "Diese Datei habe ich nicht.",
    # files and posts
    "refusal.post_done": "Diese Nachricht ist schon erledigt.",
    "refusal.taken_back": "Das ist schon zurückgenommen.",
    "refusal.file_done": "Diese Datei ist schon erledigt. Schicken Sie sie noch einmal, um sie wieder zu verwenden.",
    "refusal.file_useless": "In {name} ist nichts Brauchbares. Schicken Sie eine verbesserte Datei.",
    "refusal.which_quiz": "Es ist nicht klar, von welchem Test diese Ergebnisse sind. Wählen Sie zuerst einen.",
    "refusal.no_writing": "Dort darf ich nicht schreiben. Das Wort channel verbindet wieder einen Ort.",
    # timetable
    "refusal.topic_name": "Ein Thema braucht einen Namen mit 1 bis {most} Zeichen.",
    "refusal.topic_taken": "Ein anderes Thema heißt oder hieß schon {name}. Wählen Sie einen anderen Namen.",
    "refusal.holiday_order": "Der letzte Ferientag liegt vor dem ersten.",
    "refusal.holiday_long": "Ferien von mehr als {most} Tagen sind zu lang; bitte prüfen Sie die Daten.",
    # from the conversation
    "refusal.only_teachers_make_classes": (
        "Nur Lehrkräfte können Klassen anlegen. Codes für Lehrkräfte gibt die Technik der Schule aus."
    ),
    "refusal.channel_code": "Dieser Code verbindet einen Kanal. Nur eine Lehrkraft mit einer Klasse kann ihn nutzen.",
    "refusal.channel_code_there": (
        "Hier bewirkt dieser Code nichts. Stellen Sie ihn in den Kanal oder die Gruppe, um die es geht. Er gilt noch."
    ),
    "refusal.picture_gone": "Dieses Bild lässt sich nicht mehr holen. Schicken Sie es noch einmal.",
    "refusal.picture_kind": (
        "Das ist kein Bild, das ich zeigen kann. Schicken Sie ein PNG oder JPEG von höchstens {mb} MB."
    ),
    "refusal.file_gone": "Die Datei lässt sich nicht mehr holen. Schicken Sie sie noch einmal.",
}
