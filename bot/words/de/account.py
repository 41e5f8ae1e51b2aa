"""German: what everybody has who is stored here: language, data, moving, erasing."""

from __future__ import annotations

from collections.abc import Mapping

TEXTS: Mapping[str, str | Mapping[str, str]] = {
    "command.language": "die Sprache, in der ich schreibe",
    "command.data": "alles Gespeicherte als Dateien",
    "command.move": "in einer anderen Chat-App weitermachen",
    "command.erase": "alles Gespeicherte löschen",
    "account.nothing": "Zu diesem Chat ist nichts gespeichert.",
    "account.language": "Welche Sprache?",
    "account.language.unknown": "Ich kann bisher {known}.",
    "account.language.done": "Fertig: Ab jetzt schreibe ich Deutsch.",
    "account.language.stranger": (
        "Ich richte mich nach der Sprache der Chat-App. Wer in einer Klasse ist, ändert sie mit *language*."
    ),
    "language.en": "Englisch",
    "language.de": "Deutsch",
    "account.data": "Alles, was zur eigenen Person gespeichert ist: eine Datei zum Lesen, eine für Programme.",
    "account.data.file": "meine-daten",
    "account.data.read": "Die Daten, zum Lesen.",
    "account.data.programs": "Die Daten, für Programme.",
    "account.move": (
        "In der anderen Chat-App an diesen Bot schreiben: *join {code}*\n"
        "Der Code gilt {minutes} Minuten und nur einmal. Alles Gespeicherte kommt mit."
    ),
    "account.erase": (
        "Das löscht alles, was über dich gespeichert ist, in allen deinen Klassen: Name, Antworten, Zeiten."
    ),
    "account.erase.teacher": (
        "Das löscht alles, was über Sie gespeichert ist: Ihren Namen, diesen Chat, Ihren Platz als Lehrkraft. Was Sie "
        "für eine Klasse eingegeben haben, bleibt bei der Klasse, ohne Ihren Namen."
    ),
    "account.erase.shared": {
        "one": "*{names}* läuft mit den anderen Lehrkräften weiter.",
        "other": "*{names}* laufen mit den anderen Lehrkräften weiter.",
    },
    "account.erase.staff": "Neue Klassen lassen sich danach nur mit einem neuen Code für Lehrkräfte anlegen.",
    "account.erase.final": (
        "Das lässt sich nicht rückgängig machen. Für eine Kopie bitte vorher *data* tippen."
    ),
    "account.erase.alone": {
        "one": (
            "*{names}* hat außer Ihnen keine Lehrkraft, deshalb wurde nichts gelöscht. Übergeben Sie die Klasse zuerst "
            "(*invite* macht einen Code für eine andere Lehrkraft) oder beenden Sie sie (*close*), dann tippen Sie "
            "*erase* noch einmal."
        ),
        "other": (
            "*{names}* haben außer Ihnen keine Lehrkraft, deshalb wurde nichts gelöscht. Übergeben Sie die Klassen "
            "zuerst (*invite* macht einen Code für eine andere Lehrkraft) oder beenden Sie sie (*close*), dann tippen "
            "Sie *erase* noch einmal."
        ),
    },
    "account.erased": "Gelöscht. Es ist nichts Persönliches mehr gespeichert.",
    "account.kept": "Gut, alles bleibt, wie es ist.",
    "account.button.erase": "Alles löschen",
    "account.button.keep": "Behalten",
    # headings of the file to read
    "account.stored.person": "Zur Person",
    "account.stored.contact": "Chats mit mir",
    "account.stored.dialogue": "Wo unser Gespräch steht",
    "account.stored.enrolment": "Klassen",
    "account.stored.answer": "Antworten",
    "account.stored.review": "Fragen, die ich gestellt habe",
    "account.stored.nudge": "Tage, an denen ich geschrieben habe",
    "account.stored.homework_report": "Hausaufgaben",
    "account.stored.absence": "Versäumte Stunden",
    "account.stored.score": "Testergebnisse",
    "account.stored.teaching": "Klassen mit eigenem Unterricht",
    "account.stored.staff": "Recht, Klassen anzulegen",
    "account.stored.code": "Codes",
    "account.stored.codetry": "Falsche Codes vom letzten Tag",
    "account.stored.upload": "Geschickte Dateien",
    "account.stored.due": "Woran ich gerade arbeite",
    "account.stored.inbox": "Nachrichten an mich aus den letzten Tagen",
    "account.stored.outbox": "Nachrichten von mir",
}
