"""German: joining."""

from __future__ import annotations

from collections.abc import Mapping

TEXTS: Mapping[str, str | Mapping[str, str]] = {
    "joining.hello": (
        "Hallo. Ich helfe Klassen, Gelerntes zu behalten: mit ein paar kurzen Fragen an Schultagen. "
        "Um in deine Klasse zu kommen, tippe *join* und den Code von deiner Lehrkraft. Bis dahin speichere ich "
        "nichts über dich."
    ),
    "joining.hello.known": (
        "Du bist zurzeit in keiner Klasse. Um in eine zu kommen, tippe *join* und den Code von deiner Lehrkraft. "
        "Mit *data* bekommst du, was über dich gespeichert ist, mit *erase* wird es gelöscht."
    ),
    "joining.back": "Schön, von dir zu hören. Tippe *next* für Fragen, *help* für alles andere.",
    "joining.invitation": (
        "Hallo. Das ist die Wiederholungshilfe für *{name}* ({teachers}).\n"
        "An Schultagen stelle ich dir ein paar kurze Fragen zu Themen aus dem Unterricht, dann, wenn sie dir am "
        "meisten bringen. Etwa zwei Minuten.\n"
        "Ich speichere den Namen, den du wählst, deine Antworten und ihre Zeiten, um diese Momente zu finden. "
        "Wer sie sieht: {teachers}; deine Klasse nicht. Du kannst jederzeit gehen und deine Daten mitnehmen oder "
        "löschen. {permission}"
    ),
    "joining.a_teacher": "eine Lehrkraft deiner Schule",
    "joining.permission": (
        "Wenn deine Schule oder das Gesetz eine Erlaubnis der Eltern verlangt, hole sie bitte vorher ein."
    ),
    "joining.permission.school": (
        "Deine Schule verlangt eine Erlaubnis der Eltern: Die Fragen beginnen, sobald deine Lehrkraft sie "
        "eingetragen hat."
    ),
    "joining.more": (
        "Gespeichert: ein Name, die Nummer dieses Chats, welche Fragen du bekommen hast, deine Antworten, ihre "
        "Zeiten, gemeldete Hausaufgaben, Testergebnisse, die deine Lehrkraft einträgt. Nicht gespeichert: "
        "Telefonnummer, Kontakte, andere Nachrichten.\n"
        "Das sehen: {teachers}. Schule und Gesetz gehen vor; für nötige Erlaubnisse steht deine Lehrkraft ein. "
        "Was ich vorhersage, ist keine Note.{until}\n"
        "*data* gibt dir alles als Dateien, *erase* löscht es, *leave* beendet die Fragen."
    ),
    "joining.more.until": " Nach dem {day} wird alles gelöscht.",
    "joining.button.agree": "Einverstanden",
    "joining.button.more": "Mehr dazu",
    "joining.button.no": "Nein danke",
    "joining.choose": "Bitte wähle eines davon.",
    "joining.no": "In Ordnung. Über dich ist nichts gespeichert. Der Code gilt auch später noch.",
    "joining.old_button": "Diese Taste ist von vorhin und tut jetzt nichts mehr.",
    "joining.already": "Du bist schon in dieser Klasse. Tippe *next* für Fragen, *help* für alles andere.",
    "joining.code.wrong": (
        "Dieser Code öffnet nichts. Codes haben zehn Buchstaben und Ziffern; schau bitte noch einmal nach oder frag "
        "deine Lehrkraft nach einem neuen."
    ),
    "joining.code.place": (
        "Dieser Code ist für Lehrkräfte: Er verbindet einen Kanal oder eine Gruppe. Deine Klasse hat einen eigenen."
    ),
    "joining.code.too_many": "Das waren zu viele falsche Codes. Bitte versuche es in einer Stunde noch einmal.",
    "joining.moved": "Da sind wir wieder. Alles ist mitgekommen; ab jetzt schreibe ich hier.",
    "joining.not_moved": "Das hat nicht geklappt: {why}",
    "joining.permitted": "Eingetragen: {name} darf in {class_name} mitmachen.",
    "joining.may_start": "Die Erlaubnis für {class_name} ist da. Tippe *next* für deine ersten Fragen.",
    "joining.name": "Wie soll ich dich nennen? Ein Vorname genügt.",
    "joining.name.unreadable": "Bitte tippe einen Namen mit höchstens 40 Buchstaben. Ein Vorname genügt.",
    "joining.which_name": "Welcher Name auf der Klassenliste ist deiner?",
    "joining.button.none": "Keiner davon",
    "joining.not_joined": "{why} Wie soll ich dich nennen?",
    "joining.joined": "Schön, dass du da bist, {name}. Wann möchtest du deine Fragen?",
    "joining.joined.waiting": (
        "Schön, dass du da bist, {name}. Die Fragen beginnen, sobald deine Lehrkraft die Erlaubnis eingetragen hat. "
        "Wann möchtest du sie?"
    ),
    "joining.button.other_time": "Andere Zeit",
    "joining.time": "Bitte tippe eine Uhrzeit, zum Beispiel 17:15.",
    "joining.done": "Fertig. Nächste Fragen: {when}. Tippe *next*, um gleich anzufangen, *help* für alles andere.",
    "joining.done.waiting": "Fertig: um {minute}, sobald die Erlaubnis eingetragen ist. Tippe *help* für alles andere.",
    "joining.today": "heute um {at}",
    "joining.once_there": "um {at}, sobald es welche gibt",
    "joining.tomorrow": "morgen um {at}",
    "joining.day": "{day} um {at}",
    "command.start": "Hallo sagen",
    "command.join": "mit dem Code in eine Klasse kommen",
}
