"""German: a student's own picture, and the letter for a parents' evening."""

from __future__ import annotations

from collections.abc import Mapping

TEXTS: Mapping[str, str | Mapping[str, str]] = {
    "own.title": "*{title}: deine Themen*",
    "own.nothing": "Es wurde noch nichts unterrichtet, also gibt es nichts zu zeigen.",
    "own.now": {
        "one": "Soweit ich es sehe, würdest du heute {now} der Fragen zu deinem einen Thema ohne Hilfe beantworten.",
        "other": "Soweit ich es sehe, würdest du heute {now} der Fragen zu deinen {n} Themen ohne Hilfe beantworten.",
    },
    "own.later": "Bis zum {target} wären es {later}, wenn du nichts mehr tust.",
    "own.tonight": "Bis zum {target} hilft eine Wiederholung heute Abend am meisten bei {topics}.",
    "own.tonight_topic": "{topic} (von {before} auf {after})",
    "own.tonight_none": "Heute Abend braucht dich nichts.",
    "own.tonight_no_questions": (
        "Zu dem, was noch fehlt, gibt es noch keine Fragen, also ist hier heute Abend nichts zu tun."
    ),
    "own.tonight_little": (
        "Eine einzelne Wiederholung heute Abend ändert bis zum {target} wenig. Die Fragen der nächsten Abende bauen es "
        "auf, immer ein paar."
    ),
    "own.stays": "Was bleibt: {topics}.",
    "own.on_the_way": "Auf dem Weg: {topics}.",
    "own.more": {"one": "und {n} weiteres", "other": "und {n} weitere"},
    "own.too_early": "Für eine Zahl ist es zu früh: Es gibt noch zu wenige Antworten.",
    "own.target.quiz": "Test am {day}",
    "own.target.exam": "Prüfungstag, {day}",
    "own.target.date": "{day}",
    "own.thin": "Das beruht auf wenigen Antworten, nimm es also mit Vorsicht.",
    "own.picture.title": "Deine Themen",
    "own.picture.subtitle": "{title} · bis zum {target}",
    "own.picture.legend_now": "jetzt",
    "own.picture.legend_later": "{target}, nach jetzigem Stand",
    "own.picture.legend_reviewed": "mit einer Wiederholung heute Abend",
    "own.picture.more": {
        "one": "und {n} weiteres Thema",
        "other": "und {n} weitere Themen",
    },
    # letter
    "letter.title": "{name} in {class_title}",
    "letter.date": "{day}",
    "letter.from": "{teacher} · {class_title}",
    "letter.lead": (
        "In {class_title} gibt es an Schultagen ein paar kurze Fragen zum Unterricht, dann, wenn das Beantworten dem "
        "Gedächtnis am meisten hilft. Auf dieser Seite steht, wie das für {name} lief."
    ),
    "letter.done": "Was getan wurde",
    "letter.done.answered": (
        "{name} hat seit {since} {answered} von {asked} Fragen beantwortet, {on_time} davon am selben Tag."
    ),
    "letter.done.none": "Bei {name} ist noch keine Frage angekommen.",
    "letter.done.extra": {
        "one": "{n} weitere Frage wurde verlangt und beantwortet.",
        "other": "{n} weitere Fragen wurden verlangt und beantwortet.",
    },
    "letter.done.homework": "Hausaufgaben: {done} von {reported} gemacht, laut Meldung.",
    "letter.done.score": "{quiz}: {reached} von {out_of}.",
    "letter.done.earlier": {"one": "{n} früherer Test, danach:", "other": "{n} frühere Tests, danach:"},
    "letter.solid": "Was sitzt",
    "letter.solid.none": "Bisher ist kein Thema so gewiss, dass man sagen könnte, es sitzt.",
    "letter.between": "Was auf dem Weg ist",
    "letter.work": "Woran zu arbeiten ist",
    "letter.work.none": "Kein Thema sticht heraus.",
    "letter.unknown": "Zu wenige Antworten für eine Aussage: {topics}.",
    "letter.more": {"one": "und {n} weiteres", "other": "und {n} weitere"},
    "letter.figure": "etwa {value}",
    "letter.read": "Wie die Zahlen zu lesen sind",
    "letter.read.text": (
        "Eine Angabe wie „etwa 60 % (45–75)“ ist eine Vorhersage: So wahrscheinlich würde {name} heute eine Frage zu "
        "dem Thema ohne Hilfe beantworten; in vier von fünf Fällen liegt der wahre Wert zwischen den Zahlen in "
        "Klammern. Sie ist keine Note und sagt nichts über andere. Themen verblassen ohne Wiederholung und kommen mit "
        "ihr zurück: Wenige Minuten an mehreren Abenden bewahren mehr als ein langer Abend vor dem Test."
    ),
    "letter.notes": "Notizen aus dem Gespräch",
    "letter.file": "{slug}-brief-{name}.{ending}",
    "letter.file_all": "{slug}-briefe.{ending}",
}
