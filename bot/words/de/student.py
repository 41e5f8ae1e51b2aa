"""German: student."""

from __future__ import annotations

from collections.abc import Mapping

TEXTS: Mapping[str, str | Mapping[str, str]] = {
    # nudge
    "student.nudge": {
        "one": "*1 kurze Frage* (etwa {minutes} min).",
        "other": "*{n} kurze Fragen* (etwa {minutes} min).",
    },
    "student.nudge.class": "{name}:",
    "student.nudge.ages": "Die erste ist {first}, die letzte {last}.",
    "student.nudge.same_age": "Sie sind {first}.",
    "student.nudge.two_ages": "Sie sind {first} und {last}.",
    "student.nudge.one_age": "Sie ist {first}.",
    "student.nudge.eve": "Morgen ist {quiz}; diese hier helfen dafür am meisten.",
    "student.nudge.eve.of": "Morgen ist {quiz} in {name}; was dafür am meisten hilft, ist hier dabei.",
    "student.the_quiz": "der Test",
    "student.age.today": "aus der heutigen Stunde",
    "student.age.yesterday": "aus der Stunde von gestern",
    "student.age.weekday": "aus der Stunde vom {weekday}",
    "student.age.weeks": {"one": "von vor einer Woche", "other": "von vor {n} Wochen"},
    "student.begun": {
        "one": "Begonnen: *1 kurze Frage*.",
        "other": "Begonnen: *{n} kurze Fragen*.",
    },
    "student.declined": "In Ordnung, heute nicht.",
    "student.put_off": "In Ordnung. Ich frage um {at}.",
    "student.question.put_off": "{head} – verschoben. Ich frage um {at}.",
    "student.question.closed": "{head} – vorbei. Das Thema kommt an einem anderen Tag wieder.",
    "student.question.left": "{head} – bleibt für einen anderen Tag.",
    "student.no_later": "In einer Stunde wäre es für heute zu spät. Jetzt, oder heute nicht?",
    "student.still_there": (
        "Ich habe seit einer Woche nichts von dir gehört, deshalb schreibe ich nicht weiter zu {name}. "
        "Es ist nichts verloren. Soll ich weitermachen?"
    ),
    "student.homework": "Hausaufgabe zu *{topic}*: Ist sie gemacht?",
    # questions
    "student.head": "*{position} von {of} · {topic}*",
    "student.head.one": "*{topic}*",
    "student.head.class": "*{position} von {of} · {name} · {topic}*",
    "student.head.class.one": "*{name} · {topic}*",
    "student.question": "{head}{hint}",
    "student.hint.choice": "",
    "student.hint.number": " – tippe eine Zahl.",
    "student.hint.unit": " – tippe deine Antwort mit Einheit.",
    "student.hint.text": " – tippe eine kurze Antwort.",
    "student.hint.formula": " – tippe eine Formel, zum Beispiel s = v t.",
    "student.right": "{head} – ✓ Richtig: {given}",
    "student.wrong.chose": "{head} – ✗ Diesmal nicht: Gewählt hast du {given}; richtig ist {right}.",
    "student.wrong.wrote": "{head} – ✗ Diesmal nicht: Geschrieben hast du {given}; richtig ist {right}.",
    "student.unsure": "{head} – Richtig ist {right}.",
    "student.back.tomorrow": "Ich frage morgen noch einmal.",
    "student.back.weekday": "Ich frage am {weekday} noch einmal.",
    "student.back.quiz": "Das Thema kommt vor dem Test am {day} wieder.",
    "student.back.exam": "Das Thema kommt vor der Prüfung am {day} wieder.",
    "student.back.weeks": {
        "one": "Das Thema kommt in etwa einer Woche wieder.",
        "other": "Das Thema kommt in etwa {n} Wochen wieder.",
    },
    "student.end": "Das war es für jetzt: {right} von {n} richtig.{ahead}",
    "student.ahead.quiz": {
        "one": " Ein Abend bleibt bis zum Test am {day}.",
        "other": " {n} Abende bleiben bis zum Test am {day}.",
    },
    "student.ahead.exam": {
        "one": " Ein Abend bleibt bis zur Prüfung am {day}.",
        "other": " {n} Abende bleiben bis zur Prüfung am {day}.",
    },
    "student.put_off_before": "Diese Frage ist verschoben. Tippe *next*, um sie jetzt zu bekommen.",
    "student.closed": "Diese Frage ist vorbei; ihr Thema kommt an einem anderen Tag wieder.",
    "student.meant": "Meinst du „{text}“ als deine Antwort oder als Befehl? (Noch nichts gezählt.)",
    "student.unreadable.empty": (
        "Darin konnte ich keine Antwort lesen. Bitte tippe sie noch einmal. (Es zählt noch nichts.)"
    ),
    "student.unreadable.long": ("Das ist mir zu lang. Eine kurze Antwort genügt. (Es zählt noch nichts.)"),
    "student.unreadable.option": (
        "Bitte antworte mit einem Buchstaben von A bis {last}. (Es zählt noch nichts.)"
    ),
    "student.unreadable.options": (
        "Das passt auf mehr als eine. Bitte antworte mit einem Buchstaben. (Es zählt noch nichts.)"
    ),
    "student.unreadable.number": (
        "Darin konnte ich keine Zahl lesen. Bitte schreibe sie in Ziffern, zum Beispiel 3,5. (Es zählt noch nichts.)"
    ),
    "student.unreadable.unit": (
        "Die Einheit „{read_as}“ kenne ich nicht. Bitte schreibe sie anders. (Es zählt noch nichts.)"
    ),
    "student.unit_missing": "Welche Einheit? Wähle eine oder tippe sie. (Es zählt noch nichts.)",
    "student.unreadable.formula": (
        "Darin konnte ich keine Formel lesen. Bitte schreibe sie wie m v^2 / 2 oder sqrt(2 g h). "
        "(Es zählt noch nichts.)"
    ),
    "student.unreadable.subject": (
        "Gefragt ist {read_as}, zum Beispiel {read_as} = … (Es zählt noch nichts.)"
    ),
    # nothing to ask
    "student.nothing.over": "Diese Fragen sind vorbei; neue kommen von selbst.",
    "student.nothing.cap": "Das waren zehn Fragen heute, das reicht. Morgen gibt es mehr.",
    "student.nothing.nothing": "Gerade braucht nichts eine Frage. Ich schreibe, sobald es so weit ist.",
    "student.nothing.empty": "Zu deinen Themen gibt es noch keine Fragen. Ich schreibe, sobald welche da sind.",
    "student.nothing.waiting": "Die Erlaubnis deiner Schule fehlt noch. Bitte frag deine Lehrkraft.",
    "student.nothing.paused": "Du machst Pause. Tippe *resume*, um weiterzumachen.",
    # why
    "student.why.nothing": "Ich habe dich noch nichts gefragt.",
    "student.why.unknown": "*{topic}* war an der Reihe; Zahlen dazu habe ich nicht behalten.",
    "student.why.days": {"one": "vor einem Tag", "other": "vor {n} Tagen"},
    "student.why.recent": "vor weniger als einem Tag",
    "student.why.new": "*{topic}* hattest du zuletzt {met}, und ich habe dich noch nicht danach gefragt.",
    "student.why.met": "*{topic}* hattest du zuletzt {met}. Bisher richtig: {right} von {n}.",
    "student.why.now": "Beim Auswählen war eine richtige Antwort zu etwa {now} wahrscheinlich ({low}–{high}).",
    "student.why.quiz": "Eine Frage hebt das für {day} von etwa {without} auf etwa {lifted}.",
    "student.why.long": "Eine Frage hebt das für die nächsten Monate von etwa {without} auf etwa {lifted}.",
    "student.why.best": "Kein anderes Thema gewann so viel.",
    # progress
    "student.progress.nothing": "In {name} wurde noch nichts unterrichtet, deshalb gibt es nichts zu zeigen.",
    # settings
    "student.pause": "Wie lange? Du kannst auch einen Tag tippen, etwa 20. Dez, oder 10 Tage.",
    "student.pause.which": "Welchen Tag meinst du?",
    "student.pause.at_once": "Eine Pause beginnt sofort. Bis zu welchem Tag?",
    "student.pause.unreadable": "Darin konnte ich keinen Tag lesen. Bitte tippe zum Beispiel 2 Wochen oder 20. Dez.",
    "student.time": (
        "Deine Fragen kommen um {now}. Wann möchtest du sie? Du kannst auch eine Uhrzeit tippen, etwa 17:15."
    ),
    "student.time.unreadable": "Darin konnte ich keine Uhrzeit lesen. Bitte tippe sie wie 17:15.",
    "student.quiet": (
        "In deiner Klasse ist von {start} bis {end} Ruhe. Für eigene Ruhezeiten tippe zum Beispiel 19:00-08:00; "
        "mit aus gelten nur die der Klasse."
    ),
    "student.quiet.unreadable": "Darin konnte ich keine Zeiten lesen. Bitte tippe sie wie 19:00-08:00, oder aus.",
    "student.zone": "Deine Zeitzone ist die von {zone}. Tippe deine Stadt, um sie zu ändern.",
    "student.zone.unknown": (
        "Eine Zeitzone „{text}“ kenne ich nicht. Bitte tippe eine große Stadt in deiner Nähe, etwa Berlin."
    ),
    "student.zone.which": "Welche davon?",
    "student.done.paused": "Pause. Tippe *resume*, wenn du weitermachen willst.",
    "student.done.paused_until": "Pause bis {day}. Tippe *resume*, um früher weiterzumachen.",
    "student.done.resumed": "Gut, ich mache weiter.",
    "student.done.not_paused": "Du machst gerade keine Pause.",
    "student.done.time": "Fertig: Deine Fragen kommen um {minute}.",
    "student.done.quiet": "Fertig: nichts von {start} bis {end}, neben den Ruhezeiten deiner Klasse.",
    "student.done.quiet_off": "Fertig: Es gelten die Ruhezeiten deiner Klasse.",
    "student.done.zone": "Fertig: Ich richte mich nach der Uhr von {zone}.",
    "student.done.homework": "Eingetragen: Die Hausaufgabe zu {topic} ist gemacht.",
    "student.done.homework_open": "Eingetragen: Die Hausaufgabe zu {topic} ist noch nicht gemacht.",
    "student.done.homework_teacher": (
        "Deine Lehrkraft hat die Hausaufgabe zu {topic} schon eingetragen, und das gilt."
    ),
    "student.refused": "Das hat nicht geklappt: {why}",
    # leaving
    "student.leave": "{name} verlassen? Ich frage dann nicht mehr. Deine Antworten bleiben, bis du *erase* tippst.",
    "student.leave.which": "Welche Klasse?",
    "student.left": "Du hast {name} verlassen. Mit dem Code der Klasse kommst du wieder hinein.",
    # the rest
    "student.help": "Das kannst du tippen:",
    "student.unknown": "Das habe ich nicht verstanden. Tippe *next* für Fragen, *help* für alles andere.",
    "student.file": "Mit Dateien kann ich hier nichts anfangen. Tippe *help*, um zu sehen, was ich kann.",
    "student.no_class": "Du bist zurzeit in keiner Klasse. Tippe *join* und den Code von deiner Lehrkraft.",
    "command.next": "jetzt Fragen",
    "command.why": "warum diese Frage, jetzt",
    "command.progress": "was du nach meiner Schätzung weißt",
    "command.pause": "eine Weile keine Fragen",
    "command.resume": "nach einer Pause weitermachen",
    "command.time": "die Uhrzeit deiner Fragen",
    "command.quiet": "deine Ruhezeiten",
    "command.zone": "deine Zeitzone",
    "command.leave": "eine Klasse verlassen",
    "command.help": "was man tippen kann",
    "student.button.start": "Anfangen",
    "student.button.hour": "In einer Stunde",
    "student.button.not_today": "Heute nicht",
    "student.button.my_answer": "Meine Antwort",
    "student.button.command": "Der Befehl {word}",
    "student.button.unsure": "Weiß nicht",
    "student.button.later": "Später",
    "student.button.homework_done": "Hausaufgabe gemacht",
    "student.button.homework_open": "Noch nicht",
    "student.button.homework_done.of": "{topic}: gemacht",
    "student.button.homework_open.of": "{topic}: noch nicht",
    "student.button.keep_going": "Weitermachen",
    "student.button.pause": "Pause bis …",
    "student.button.leave": "Verlassen",
    "student.button.pause_week": "Eine Woche",
    "student.button.pause_weeks": "Zwei Wochen",
    "student.button.pause_open": "Bis ich resume tippe",
    "student.button.leave_class": "{name} verlassen",
    "student.button.stay": "Bleiben",
}
