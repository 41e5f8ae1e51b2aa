"""German: a quiz against its predictions."""

from __future__ import annotations

from collections.abc import Mapping

from bot.words.de.evidence.bounds import bounded

TEXTS: Mapping[str, str | Mapping[str, str]] = {
    "quiz.title": "*{title} · {what}: vorhergesagt und erreicht*",
    "quiz.quiz": "Test vom {day}",
    "quiz.exam": "Prüfung vom {day}",
    "quiz.overall": "Vorhergesagt {predicted}, erreicht {actual}, {n} Lernende.",
    "quiz.fit.as_predicted": "Das ist wie vorhergesagt.",
    "quiz.fit.higher": "Das ist höher als vorhergesagt.",
    "quiz.fit.lower": "Das ist niedriger als vorhergesagt.",
    "quiz.error": {
        "one": "Die Vorhersage beruhte auf {n} Antwort; einzelne lagen im Mittel um {error} Punkte daneben.",
        "other": "Die Vorhersage beruhte auf {n} Antworten; einzelne lagen im Mittel um {error} Punkte daneben.",
    },
    "quiz.lower": "Niedriger als vorhergesagt: {names}.",
    "quiz.higher": "Höher als vorhergesagt: {names}.",
    "quiz.topic": "{topic} ({predicted} vorhergesagt, {actual} erreicht)",
    "quiz.students_lower": "Deutlich niedriger als vorhergesagt: {names}.",
    "quiz.students_higher": "Deutlich höher als vorhergesagt: {names}.",
    "quiz.nobody": "Niemand und kein Thema wich deutlich ab.",
    "quiz.moved": "Die Ergebnisse haben die Vorhersagen im Mittel um {moved} Punkte verschoben{most}.",
    "quiz.moved_most": ", am meisten bei {topic} ({moved})",
    "quiz.missing": {"one": "Kein Ergebnis für {names}.", "other": "Keine Ergebnisse für {names}."},
    "quiz.no_scores": "Zu diesem Test gibt es noch keine Ergebnisse. Schicken Sie zuerst eine Datei damit.",
    "quiz.nothing_to_compare": (
        "Kein Ergebnis gehört zu einem Thema, das vor dem Test behandelt wurde, also lässt sich nichts vergleichen. "
        "Die Themen des Tests stehen im Stundenplan."
    ),
    "quiz.none_then": "Am {day} war kein Test.",
    "quiz.no_quiz": "Es gibt noch keinen Test mit Ergebnissen. Schicken Sie zuerst eine Datei damit.",
    "quiz.picture.title": "Vorhergesagt und erreicht",
    "quiz.picture.overall": "Vorhergesagt {predicted}, erreicht {actual}",
    "quiz.picture.subtitle": "{title} · {what} · {n} Lernende",
    "quiz.picture.predicted": "vorhergesagt, % (kleine Zahlen: Ergebnisse am Punkt)",
    "quiz.picture.actual": "erreicht, %",
    "quiz.picture.exact": "genau",
    "quiz.picture.topics": "Themen, wie unterrichtet",
    "quiz.picture.legend": "Ring: vorhergesagt · gefüllt: erreicht · Zahl: Punkte dazwischen",
    "quiz.picture.few": "Zu wenige Ergebnisse für eine Kurve.",
    "quiz.picture.how": "Balken: In 4 von 5 Fällen liegt das wahre Mittel darin.",
    "table.quiz_students": "Lernende",
    "table.quiz_topics": "Themen",
    "readme.quiz": (
        "Vorhergesagt ist, was für den Moment des Tests aus allem davor erwartet wurde. Verschoben sagt, wie weit "
        "sich diese Vorhersage bewegte, als die Ergebnisse bekannt waren."
    ),
    "readme.quiz_scores": (
        "Ein Ergebnis zu einem Thema zählt im Modell wie mehrere kurze Fragen; eines für den ganzen Test sagt über "
        "jedes Thema weniger. Es ist keine Wiederholung: Ein Test ohne Erklärung zählt nicht als Lernen."
    ),
    "column.predicted": "Vorhergesagt",
    "column.predicted.note": "Erwarteter Anteil im Moment des Tests, aus allem, was davor bekannt war.",
    "column.actual": "Erreicht",
    "column.actual.note": "Erreichter Anteil.",
    "column.difference": "Unterschied",
    "column.difference.note": "Erreicht minus vorhergesagt, in Punkten von 100.",
    "column.fit": "Vergleich",
    "column.fit.note": (
        "Abweichend nur, wo Zufall und Unsicherheit der Vorhersage den Unterschied nicht erklären."
    ),
    "column.moved": "Verschoben",
    "column.moved.note": "Wie weit sich die Vorhersage für diesen Moment durch die Ergebnisse bewegte.",
    "column.scores": "Ergebnisse",
    "column.scores.note": "Ergebnisse hinter der Zeile.",
    "fit.as_predicted": "wie vorhergesagt",
    "fit.higher": "höher als vorhergesagt",
    "fit.lower": "niedriger als vorhergesagt",
    **bounded("predicted", "actual"),
}
