"""English: what everybody has who is stored here: language, data, moving, erasing."""

from __future__ import annotations

from collections.abc import Mapping

TEXTS: Mapping[str, str | Mapping[str, str]] = {
    "command.language": "the language I write in",
    "command.data": "everything stored about you, as files",
    "command.move": "go on in another chat application",
    "command.erase": "erase everything stored about you",
    "account.nothing": "Nothing is stored about you here.",
    "account.language": "Which language?",
    "account.language.unknown": "I speak {known} so far.",
    "account.language.done": "Done: I write in English from now on.",
    "account.language.stranger": (
        "I follow the language of your chat application. Once you are in a class, *language* changes it."
    ),
    "language.en": "English",
    "language.de": "German",
    "account.data": "Everything stored about you: one file to read, one for programs.",
    "account.data.file": "my-data",
    "account.data.read": "Your data, to read.",
    "account.data.programs": "Your data, for programs.",
    "account.move": (
        "In the other chat application, write to this bot: *join {code}*\n"
        "The code is good for {minutes} minutes, once. Everything of yours comes along."
    ),
    "account.erase": "This erases everything stored about you in all your classes: name, answers, times.",
    "account.erase.teacher": (
        "This erases everything stored about you: your name, this chat, your place as a teacher. What you entered "
        "for a class stays with the class, without your name."
    ),
    "account.erase.shared": {
        "one": "*{names}* goes on with your colleagues.",
        "other": "*{names}* go on with your colleagues.",
    },
    "account.erase.staff": "You could make no new classes without a new teacher’s code.",
    "account.erase.final": "It cannot be undone. Type *data* first if you want to keep a copy.",
    "account.erase.alone": {
        "one": (
            "You are the only teacher of *{names}*, so nothing was erased. First hand it over (*invite* makes a code "
            "for a colleague) or end it (*close*), then type *erase* again."
        ),
        "other": (
            "You are the only teacher of *{names}*, so nothing was erased. First hand them over (*invite* makes a "
            "code for a colleague) or end them (*close*), then type *erase* again."
        ),
    },
    "account.erased": "Erased. Nothing about you is stored any more.",
    "account.kept": "All right, nothing changes.",
    "account.button.erase": "Erase everything",
    "account.button.keep": "Keep it",
    # headings of the file to read
    "account.stored.person": "You",
    "account.stored.contact": "Chats in which you talk to me",
    "account.stored.dialogue": "Where our conversation stands",
    "account.stored.enrolment": "Classes that you are in",
    "account.stored.answer": "Your answers",
    "account.stored.review": "Questions that I asked you",
    "account.stored.nudge": "Days on which I wrote to you",
    "account.stored.homework_report": "Homework",
    "account.stored.absence": "Lessons that you missed",
    "account.stored.score": "Quiz results",
    "account.stored.teaching": "Classes that you teach",
    "account.stored.staff": "Your right to create classes",
    "account.stored.code": "Codes made for you",
    "account.stored.codetry": "Wrong codes that you typed in the last day",
    "account.stored.upload": "Files that you sent",
    "account.stored.due": "What I am working on for you",
    "account.stored.inbox": "What you wrote in the last days",
    "account.stored.outbox": "What I wrote to you",
}
