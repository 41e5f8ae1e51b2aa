"""English: joining."""

from __future__ import annotations

from collections.abc import Mapping

TEXTS: Mapping[str, str | Mapping[str, str]] = {
    "joining.hello": (
        "Hello. I help classes keep what they were taught: a few short questions on school days. "
        "To join your class, type *join* and the code from your teacher. Until then I store nothing about you."
    ),
    "joining.hello.known": (
        "You are in no class at the moment. To join one, type *join* and the code from your teacher. "
        "*data* gives you what is stored about you, *erase* removes it."
    ),
    "joining.back": "Good to hear from you. Type *next* for questions, *help* for the rest.",
    "joining.invitation": (
        "Hello. This is the review helper for *{name}*, run by {teachers}.\n"
        "On school days I ask you a few short questions about topics you were taught, when they help you most. "
        "About two minutes.\n"
        "I keep the name you choose, your answers and their times, to find those moments. {teachers} can see them, "
        "your class cannot. You can leave, and take or erase your data, at any time. {permission}"
    ),
    "joining.a_teacher": "a teacher of your school",
    "joining.permission": "If your school or the law asks for a parent’s permission, please have it first.",
    "joining.permission.school": (
        "Your school asks for a parent’s permission: questions start once your teacher has noted it."
    ),
    "joining.more": (
        "Stored: a name, this chat’s number, which questions you were asked, your answers, their times, homework "
        "you report, quiz scores your teacher enters. Not stored: your phone number, contacts, other messages.\n"
        "Seen by: {teachers}. The school and local law decide first; your teacher answers for having the "
        "permissions that are needed. What I predict is no grade.{until}\n"
        "*data* gives you everything as files, *erase* removes it, *leave* ends the questions."
    ),
    "joining.more.until": " Everything is removed after {day}.",
    "joining.button.agree": "I agree",
    "joining.button.more": "Tell me more",
    "joining.button.no": "No thanks",
    "joining.choose": "Please choose one.",
    "joining.no": "All right. Nothing about you is stored. The code lets you in later.",
    "joining.old_button": "That button is from earlier and does nothing now.",
    "joining.already": "You are in this class already. Type *next* for questions, *help* for the rest.",
    "joining.code.wrong": (
        "This code opens nothing. Codes have ten letters and figures; please look again, or ask your teacher "
        "for a new one."
    ),
    "joining.code.place": "This code is for teachers: it binds a channel or group. Your class has a code of its own.",
    "joining.code.too_many": "Too many wrong codes. Please try again in an hour.",
    "joining.moved": "Here you are. Everything of yours came along; I write to you here from now on.",
    "joining.not_moved": "That did not work: {why}",
    "joining.permitted": "Noted: {name} may take part in {class_name}.",
    "joining.may_start": "The permission for {class_name} is there. Type *next* for your first questions.",
    "joining.name": "What should I call you? A first name is enough.",
    "joining.name.unreadable": "Please type a name of up to 40 letters. A first name is enough.",
    "joining.which_name": "Which of these on the class list are you?",
    "joining.button.none": "None of these",
    "joining.not_joined": "{why} What should I call you?",
    "joining.joined": "Good to have you, {name}. When do you want your questions?",
    "joining.joined.waiting": (
        "Good to have you, {name}. Questions start once your teacher has noted the permission. When do you want them?"
    ),
    "joining.button.other_time": "Another time",
    "joining.time": "Please type a time, such as 17:15.",
    "joining.done": "Done. Next questions: {when}. Type *next* to start at once, *help* for the rest.",
    "joining.done.waiting": "Done: at {minute}, once the permission is noted. Type *help* for the rest.",
    "joining.today": "today at {at}",
    "joining.once_there": "at {at}, as soon as there are some",
    "joining.tomorrow": "tomorrow at {at}",
    "joining.day": "{day} at {at}",
    "command.start": "say hello",
    "command.join": "join a class with its code",
}
