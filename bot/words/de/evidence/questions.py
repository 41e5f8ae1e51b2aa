"""German: which questions work."""

from __future__ import annotations

from collections.abc import Mapping

from bot.words.de.evidence.bounds import bounded

TEXTS: Mapping[str, str | Mapping[str, str]] = {
    "questions.title": "*{title} · Fragen*",
    "questions.none": "Es gibt noch keine Fragen.",
    "questions.summary": {
        "one": (
            "{n} Frage in Gebrauch: {look} zum Ansehen, {fine} ohne Befund, {few} mit zu wenigen Antworten für eine "
            "Aussage."
        ),
        "other": (
            "{n} Fragen in Gebrauch: {look} zum Ansehen, {fine} ohne Befund, {few} mit zu wenigen Antworten für eine "
            "Aussage."
        ),
    },
    "questions.line": "*{topic}*: {prompt}\n{finding}",
    "questions.more": {
        "one": "und {n} weitere, siehe Arbeitsmappe",
        "other": "und {n} weitere, siehe Arbeitsmappe",
    },
    "questions.note": (
        "Die Lösungsquote hier ist die von Fragen kurz vor dem Vergessen, nicht die einer Prüfung. Wenige Antworten, "
        "kein Urteil."
    ),
    "questions.check_key": (
        "Wer sonst gut antwortet, wählt hier eher {options}. Prüfen Sie, welche Möglichkeit als richtig gilt, und den "
        "Wortlaut."
    ),
    "questions.negative": (
        "Wer sonst gut antwortet, schneidet hier schlechter ab ({discrimination}). Prüfen Sie Lösung und Wortlaut."
    ),
    "questions.too_hard": (
        "Nur zu {facility} richtig. Fragen Sie nach einem kleineren Schritt, oder unterrichten Sie den Punkt vorher "
        "noch einmal."
    ),
    "questions.harder": (
        "Zu {facility} richtig, wo das Behalten der Klasse etwa {expected} erwarten ließ. Formulieren Sie sie um, oder "
        "fragen Sie nach einem kleineren Schritt."
    ),
    "questions.unsure": (
        "{unsure} sagen „weiß nicht“. Vielleicht fragt sie nach etwas, das nicht mit diesen Worten unterrichtet wurde."
    ),
    "questions.too_easy": "Zu {facility} richtig. Gut für den Anfang, aber sie sagt Ihnen nichts Neues.",
    "questions.flat": (
        "Sie trennt kaum zwischen Können und Nichtkönnen ({discrimination}). Formulieren Sie sie um, oder nehmen Sie "
        "eine andere."
    ),
    "questions.idle_option": (
        "Kaum jemand wählt {options}. Ersetzen Sie das durch einen Fehler, der wirklich gemacht wird."
    ),
    "questions.fine": "Nichts spricht dagegen.",
    "questions.few": "Zu wenige Antworten für eine Aussage ({students} von {needed} Lernenden).",
    "questions.correlation": "{mean} ({low} bis {high})",
    "band.very_good": "sehr gut",
    "band.good": "recht gut",
    "band.marginal": "knapp, meist verbesserungsbedürftig",
    "band.poor": "schwach",
    "band.negative": "negativ: Lösung prüfen",
    "band.unknown": "zu wenige Antworten",
    "kind.choice": "Auswahl",
    "kind.number": "Zahl",
    "kind.text": "Text",
    "kind.formula": "Formel",
    "table.questions": "Fragen",
    "table.options": "Möglichkeiten",
    "readme.questions": (
        "Erstellt {moment}. Lösungsquote und Trennschärfe nehmen die erste Antwort jeder Person auf eine Frage."
    ),
    "readme.bands": (
        "Die Trennschärfe ist die Korrelation zwischen der richtigen Antwort auf diese Frage und dem Anteil richtiger "
        "Antworten auf alle anderen. Gelesen nach Ebel und Frisbie (1991): ab 0,40 sehr gut, 0,30 bis 0,39 recht gut, "
        "0,20 bis 0,29 knapp, unter 0,20 schwach."
    ),
    "column.question": "Frage",
    "column.question.note": "Die Frage, wie sie gestellt wird.",
    "column.kind": "Art",
    "column.kind.note": "Auswahl, Zahl, Text oder Formel.",
    "column.in_use": "In Gebrauch",
    "column.in_use.note": "Ob sie noch gestellt wird.",
    "column.verdict": "Urteil",
    "column.verdict.note": "Was die Antworten sagen, warum, und was zu tun ist. Nur bei genug Antworten.",
    "column.students_answered": "Lernende",
    "column.students_answered.note": "Lernende, die sie mindestens einmal beantwortet haben.",
    "column.all_answers": "Antworten",
    "column.all_answers.note": "Alle Antworten, auch wiederholte.",
    "column.facility": "Lösungsquote",
    "column.facility.note": "Anteil richtiger erster Antworten. 1 ist am leichtesten.",
    "column.corrected": "Ohne Raten",
    "column.corrected.note": (
        "Lösungsquote, um Raten berichtigt: richtige minus falsche / (Möglichkeiten - 1). Nur bei Auswahl."
    ),
    "column.expected": "Erwartet",
    "column.expected.note": "Was die Vorhersagen davor aus denselben Antworten machten.",
    "column.discrimination": "Trennschärfe",
    "column.discrimination.note": (
        "Korrelation mit dem Anteil richtiger Antworten auf alle anderen Fragen, zu der der anderen Fragen ihrer Art "
        "hingezogen, je weniger Antworten, desto mehr. Leer unter 15 Lernenden, wo sie alles sein könnte."
    ),
    "column.band": "Lesart",
    "column.band.note": (
        "Trennschärfe, gelesen nach Ebel und Frisbie (1991), wo ihr Bereich höchstens zwei benachbarte Lesarten lässt; "
        "eine schlechte nur, wo sie unter allen Fragen der Klasse kein Zufall ist."
    ),
    "column.unsure": "Weiß nicht",
    "column.unsure.note": "Anteil der Antworten „weiß nicht“.",
    "column.seconds": "Sekunden",
    "column.seconds.note": "Median der Zeit von der Frage bis zur Antwort, in Sekunden.",
    "column.seconds_low": "Viertel darunter",
    "column.seconds_low.note": "Ein Viertel der Antworten kam schneller.",
    "column.seconds_high": "Viertel darüber",
    "column.seconds_high.note": "Ein Viertel der Antworten brauchte länger.",
    "column.option": "Möglichkeit",
    "column.option.note": "Die Möglichkeit, wie sie gezeigt wird.",
    "column.is_right": "Richtig",
    "column.is_right.note": "Ob es die richtige ist.",
    "column.taken": "Gewählt",
    "column.taken.note": "Wie oft sie gewählt wurde.",
    "column.taken_share": "Anteil",
    "column.taken_share.note": "Anteil der Antworten, die eine Möglichkeit wählten; leer unter 5.",
    "column.option_discrimination": "Trennschärfe",
    "column.option_discrimination.note": (
        "Korrelation des Wählens mit dem Anteil richtiger Antworten sonst. Bei einer falschen, die taugt, unter 0."
    ),
    **bounded("facility", "discrimination", "unsure", "taken_share"),
}
