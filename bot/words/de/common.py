"""German: what everybody may hear, and what can be typed as well."""

from __future__ import annotations

from collections.abc import Mapping

TEXTS: Mapping[str, str | Mapping[str, str]] = {
    "fault": "Das hat nicht geklappt. Nichts ist verloren; bitte in einer Minute noch einmal versuchen. (Ref. {ref})",
    "not_yours": "Diese Taste gehört jemand anderem, deshalb ist nichts passiert.",
    # What can be typed as well, in any language: bars stand between the forms.
    "typed.yes": "ja|j",
    "typed.no": "nein",
    "typed.agree": "einverstanden|ich bin einverstanden",
    "typed.more": "mehr",
    "typed.none": "keine|keiner|keines|keins",
    "typed.no_homework": "keine hausaufgabe|keine hausaufgaben",
    "typed.on": "an|ein",
    "typed.off": "aus|klasse",
    "typed.go": "los|start",
    "typed.later": "später",
    "typed.my_answer": "meine antwort|als antwort|antwort",
    "typed.unsure": "weiß nicht|weiss nicht|weiß ich nicht|nicht sicher|unsicher|keine ahnung",
    # What Matrix, which has no buttons, adds to a message.
    "matrix.tap.letter": "Unten einen Buchstaben antippen oder ihn schreiben.",
    "matrix.tap.both": "Unten antippen, oder den Buchstaben oder die Worte schreiben.",
    "matrix.tap.other": "Unten antippen oder die Worte schreiben.",
    "matrix.typed": "(oder schreiben: {typed})",
    "matrix.declined": "Leider spreche ich nur mit Menschen der Schule, die mich betreibt. Frag deine Lehrkraft.",
    "matrix.too_many": "Ich gehe, denn was Lernende antworten, bleibt privat: bitte einen Chat nur mit mir anfangen.",
    "stale": "Diese Frage ist schon beantwortet.",
}
