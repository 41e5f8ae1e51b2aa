"""German: the starter, as text and as pictures to project."""

from __future__ import annotations

from collections.abc import Mapping

TEXTS: Mapping[str, str | Mapping[str, str]] = {
    "starter.title": "*Einstieg für {title}, {day}*",
    "starter.lead": "Diese Fragen bringen der Klasse am meisten {target}.",
    "starter.quiz": "bis zum Test am {day}",
    "starter.exam": "bis zur Prüfung am {day}",
    "starter.date": "bis {day}",
    "starter.question": "*{number} · {topic}*  {prompt}",
    "starter.option": "{letter}  {option}",
    "starter.gain": "(jetzt wissen es etwa {now}; alle zu fragen bringt etwa {gain} Punkte)",
    "starter.picture_missing": "(mit Bild: bitte aus der Frage zeigen)",
    "starter.none": "Zu keinem Thema, das gewinnen würde, gibt es eine Frage in Gebrauch, also keinen Einstieg.",
    "starter.missing": "Diese Themen würden auch gewinnen, haben aber keine Frage: {topics}.",
    "starter.answers": "*Einstieg für {title}, Antworten*",
    "starter.answer": "*{number} · {answer}*  {explanation}",
    "starter.enter": "Sagen Sie mir danach, wie viele es je Frage richtig hatten, zum Beispiel: {example}",
    "starter.counts": "{counts} von {present}",
    "starter.page.questions": "Einstieg",
    "starter.page.answers": "Einstieg: Antworten",
    "starter.page_of": "{title} · Seite {page} von {pages}",
    "starter.alt.questions": "Fragen zum Einstieg: {text}",
    "starter.alt.answers": "Antworten zum Einstieg: {text}",
    "starter.none_to_count": "Es gibt keinen Einstieg, dessen Zahlen noch fehlen. Das Wort starter bringt einen neuen.",
    "starter.counts_unreadable": (
        "Das konnte ich nicht lesen. Bitte schreiben Sie die Anzahlen und wie viele da waren, wie in: 18 22 9 von 26"
    ),
    "starter.counts_number": (
        "Das sind {found} Anzahlen für {questions} Fragen. Bitte schreiben Sie eine für jede Frage."
    ),
    "starter.counts_present": "{present} ist keine Anzahl, die eine Klasse haben kann.",
    "starter.counts_more": (
        "{count} richtige Antworten von {present} Anwesenden kann nicht sein. Bitte prüfen Sie die Zahlen."
    ),
}
