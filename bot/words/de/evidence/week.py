"""German: the weekly completion report, as text and as picture."""

from __future__ import annotations

from collections.abc import Mapping

TEXTS: Mapping[str, str | Mapping[str, str]] = {
    "week.title": "*{title} · Woche {week}* ({span})",
    "week.title_plain": "{title} · Woche {week}",
    "week.as_of": "{span} · Stand {moment}",
    "week.nothing_asked": "In dieser Woche wurde niemand etwas gefragt.",
    "week.answered": (
        "{once} von {students} haben mindestens einmal geantwortet; {answered} von {asked} Fragen sind beantwortet, "
        "{on_time} davon rechtzeitig."
    ),
    "week.extra": {
        "one": "{n} weitere Antwort wurde verlangt.",
        "other": "{n} weitere Antworten wurden verlangt.",
    },
    "week.waiting": {
        "one": "{n} Frage kann noch beantwortet werden.",
        "other": "{n} Fragen können noch beantwortet werden.",
    },
    "week.trend.more": "Mehr als in der Woche davor ({before}).",
    "week.trend.fewer": "Weniger als in der Woche davor ({before}).",
    "week.trend.alike": "Etwa wie in der Woche davor ({before}).",
    "week.right": "Richtig: {figure}.",
    "week.silent": "Seit einer Woche still: {names}.",
    "week.slower": "Langsamer als sonst: {names}.",
    "week.low": "Sicher unter der Hälfte für {quiz}: {names}.",
    "week.nobody": "Niemand fällt auf.",
    "week.below": "Themen unter der Hälfte für {quiz}, nach jetzigem Stand: {topics}.",
    "week.below_none": "Kein Thema steht unter der Hälfte für {quiz}.",
    "week.below_none_yet": (
        "Kein Thema mit genug Antworten steht unter der Hälfte für {quiz}; zu früh für eine Aussage ist es bei "
        "{topics}."
    ),
    "week.below_unknown": (
        "Zu früh für eine Aussage über {quiz}: Noch kein Thema davon hat {enough} Antworten. Erinnern Sie die Klasse "
        "an die Fragen am Abend."
    ),
    "week.no_quiz": "Es ist kein Test geplant.",
    "week.below_topic": "*{topic}* ({figure})",
    "week.perhaps": "vielleicht {topic}",
    "week.good": "Ein gutes Wort, unter vier Augen: {names}.",
    "week.good.back": "{name} (nach einer stillen Woche wieder da)",
    "week.good.more": "{name} (antwortet mehr als sonst)",
    "week.good.better": "{name} (mehr richtig als erwartet)",
    "week.good.all": {
        "one": "{n} Person hat alles rechtzeitig beantwortet.",
        "other": "{n} haben alles rechtzeitig beantwortet.",
    },
    "week.paused": "Zurzeit nicht gefragt: {names}.",
    "week.the_quiz": "den Test am {day}",
    "week.the_exam": "die Prüfung am {day}",
    # picture
    "week.picture.checks": "{answered} von {asked} beantwortet",
    "week.picture.students": "von {once} der {students} Lernenden",
    "week.picture.on_time": "{n} rechtzeitig",
    "week.picture.late": "{n} später",
    "week.picture.waiting": "{n} noch offen",
    "week.picture.unanswered": "{n} unbeantwortet",
    "week.picture.talk_to": "Ansprechen",
    "week.picture.silent": {"one": "keine Antwort auf {n} Frage", "other": "keine Antwort auf {n} Fragen"},
    "week.picture.since": "keine Antwort seit {day}",
    "week.picture.slower": "langsamer: {now} statt {usual}",
    "week.picture.low": "erwartet etwa {value}, sicher niedrig",
    "week.picture.also": "auch: {names}",
    "week.picture.teach": "Noch einmal, für {quiz}",
    "week.picture.teach_later": "Kein Test geplant: Behalten jetzt",
    "week.picture.teach_none": "Kein Thema unter der Hälfte für {quiz}",
    "week.picture.teach_unknown": "Noch nichts Sicheres für {quiz}",
    "week.picture.unknown_do": "Klasse erinnern: Ein Thema braucht {enough} Antworten.",
    "week.picture.higher": {
        "one": "{n} weiteres Thema steht höher",
        "other": "{n} weitere Themen stehen höher",
    },
    "week.picture.unknown": "Zu wenige Antworten für eine Aussage.",
    "week.picture.good": "Ein gutes Wort, unter vier Augen",
    "week.picture.nobody_good": "Diese Woche fällt niemand auf.",
    "week.picture.all": {"one": "{n} Person: alles rechtzeitig", "other": "{n} Lernende: alles rechtzeitig"},
    "week.picture.good.back": "nach einer stillen Woche wieder da",
    "week.picture.good.more": "antwortet mehr als sonst",
    "week.picture.good.better": "mehr richtig als erwartet",
    "week.picture.good.all_on_time": "alles rechtzeitig",
    "week.picture.file": "{slug}-{year}-W{week}.png",
    "week.hours": {"one": "{n} Stunde", "other": "{n} Stunden"},
    "week.minutes": {"one": "{n} Minute", "other": "{n} Minuten"},
    # the class channel
    "channel.week": "*{title} · Woche {week}*: {who}",
    "channel.some": "{once} von {students} haben mindestens einmal geantwortet{part}.",
    "channel.nearly_all": "alle oder fast alle {students} haben mindestens einmal geantwortet{part}.",
    "channel.part": "; etwa {share} der Fragen sind beantwortet",
    "channel.part_nearly_all": "; fast alle Fragen sind beantwortet",
    "channel.too_few": (
        "In dieser Klasse haben diese Woche weniger als {fewest} Lernende geantwortet, deshalb wird der Klasse nichts "
        "gezeigt: Eine Zahl könnte auf eine einzelne Person weisen."
    ),
}
