"""English: what everybody may hear."""

from __future__ import annotations

from collections.abc import Mapping

TEXTS: Mapping[str, str | Mapping[str, str]] = {
    "fault": "That did not work. Nothing is lost; please try again in a minute. (ref {ref})",
    "not_yours": "This button belongs to somebody else, so nothing happened.",
    # What can be typed as well, in any language: bars stand between the forms.
    "typed.yes": "yes|y|ok|okay",
    "typed.no": "no|n",
    "typed.agree": "agree|i agree",
    "typed.more": "more",
    "typed.none": "none|no limit|default",
    "typed.no_homework": "no homework",
    "typed.on": "on",
    "typed.off": "off|class|reset",
    "typed.go": "go",
    "typed.later": "later",
    "typed.my_answer": "my answer|as my answer|answer",
    "typed.unsure": "not sure|unsure|i do not know|i don't know|?",
    # What Matrix, which has no buttons, adds to a message.
    "matrix.tap.letter": "Tap a letter below, or type it.",
    "matrix.tap.both": "Tap below, or type the letter or the words.",
    "matrix.tap.other": "Tap below, or type the words.",
    "matrix.typed": "(or type: {typed})",
    "matrix.declined": "Sorry, I only talk with people of the school that runs me. Ask your teacher how to join.",
    "matrix.too_many": "I leave, because what a student answers is private: please start a chat with me alone.",
    "stale": "This question was already answered.",
}
