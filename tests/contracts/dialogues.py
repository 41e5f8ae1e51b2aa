"""Dialogues that every chat must be able to carry, as data: what is said, and what has to be shown in return.

``[Label]`` presses the button with that label (where a platform has none: it is typed); anything else is typed.
``{code}`` is the code of the class. Several expected texts have to be shown in that order.
"""

from __future__ import annotations

from collections.abc import Sequence

Line = tuple[str, str | tuple[str, ...]]

JOINING: Sequence[Line] = (
    ("hello", "To join your class, type join and the code from your teacher."),
    ("join ZZZZZ22222", "This code opens nothing."),
    ("join {code}", "This is the review helper for 10B Physics, run by Ms Okafor."),
    ("[Tell me more]", ("→ Tell me more", "Not stored: your phone number")),
    ("[I agree]", ("→ I agree", "What should I call you?")),
    ("Mira", "Good to have you, Mira."),
    ("[18:00]", ("→ 18:00", "Done. Next questions: today at 18:00.")),
)

DIALOGUES: dict[str, Sequence[Line]] = {
    "somebody reads and says no": (
        ("/start {code}", "I keep the name you choose"),
        ("[No thanks]", "Nothing about you is stored."),
    ),
    "a choice is asked and answered by its button": (
        *JOINING,
        ("next", ("Springs", "Springs, question 1?")),
        ("Z", "Please answer with a letter from A to D."),
        ("[10 cm]", ("✓ Right", "Because of Springs.", "Density, question 1?")),
    ),
    "a choice is answered by typing and a number in two tries": (
        *JOINING,
        ("next", "Springs, question 1?"),
        ("8 cm", ("✗ Not this time: you chose", "it is", "10 cm", "Density, question 1?")),
        ("lots of it", "I could not read a number in that."),
        ("2,7 g/cm3", ("✓ Right", "That is all for now: 1 of 2 right.")),
    ),
    "somebody does not know, and puts one off": (
        *JOINING,
        ("next", "Springs, question 1?"),
        ("[Not sure]", ("It is", "10 cm", "Density, question 1?")),
        ("[Later]", "I will ask at 16:00."),
    ),
    "a student asks about own things and settings": (
        *JOINING,
        ("time 17:15", "your questions come at 17:15"),
        ("progress", "10B Physics"),
        ("help", "You can type:"),
        ("pause 2 weeks", "Paused until"),
        ("resume", "Good, I go on."),
        ("move", "In the other chat application, write to this bot: join"),
    ),
    "what a teacher may do is nothing to a student": (
        *JOINING,
        ("report", "I did not understand that."),
        ("/students", "I did not understand that."),
        ("New topic: Levers", "I did not understand that."),
    ),
    "a name is shown as it was typed, whatever it means elsewhere": (
        ("join {code}", "This is the review helper for 10B Physics"),
        ("[I agree]", "What should I call you?"),
        ("<b>Mi</b> &amp; *ra* _x_ `y`", "Good to have you, <b>Mi</b> &amp; *ra* _x_ `y`."),
        ("[18:00]", "Done."),
    ),
    "everything stored is handed out and erased": (
        *JOINING,
        ("data", "Everything stored about you"),
        ("erase", "It cannot be undone."),
        ("[Erase everything]", "Erased. Nothing about you is stored any more."),
        ("next", "To join your class, type join"),
    ),
}
