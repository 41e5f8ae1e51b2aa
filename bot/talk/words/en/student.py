"""English: student."""

from __future__ import annotations

from collections.abc import Mapping

TEXTS: Mapping[str, str | Mapping[str, str]] = {
    # nudge
    "student.nudge": {
        "one": "*1 quick self-check* (about {minutes} min).",
        "other": "*{n} quick self-checks* (about {minutes} min).",
    },
    "student.nudge.class": "{name}:",
    "student.nudge.ages": "The first is from {first}, the last from {last}.",
    "student.nudge.same_age": "They are from {first}.",
    "student.nudge.one_age": "It is from {first}.",
    "student.nudge.eve": "Tomorrow is {quiz}; these help most for it.",
    "student.the_quiz": "the quiz",
    "student.age.today": "today’s lesson",
    "student.age.yesterday": "yesterday’s lesson",
    "student.age.weekday": "{weekday}’s lesson",
    "student.age.weeks": {"one": "a week ago", "other": "{n} weeks ago"},
    "student.begun": {
        "one": "*1 quick self-check*, begun.",
        "other": "*{n} quick self-checks*, begun.",
    },
    "student.declined": "All right, not today.",
    "student.put_off": "All right. I will ask at {at}.",
    "student.no_later": "In an hour it would be too late for today. Now, or not today?",
    "student.still_there": (
        "I have not heard from you for a week, so I stop writing about {name}. "
        "Nothing is lost. Shall I go on?"
    ),
    "student.homework": "Homework on *{topic}*: is it done?",
    # questions
    "student.head": "*{position} of {of} · {topic}*",
    "student.head.one": "*{topic}*",
    "student.question": "{head}{hint}",
    "student.hint.choice": "",
    "student.hint.number": " — type a number.",
    "student.hint.unit": " — type your answer with its unit.",
    "student.hint.text": " — type a short answer.",
    "student.hint.formula": " — type a formula, for example s = v t.",
    "student.right": "{head} — ✓ Right: {given}",
    "student.wrong.chose": "{head} — ✗ Not this time: you chose {given}; it is {right}.",
    "student.wrong.wrote": "{head} — ✗ Not this time: you wrote {given}; it is {right}.",
    "student.unsure": "{head} — It is {right}.",
    "student.back.tomorrow": "I will ask again tomorrow.",
    "student.back.weekday": "I will ask again on {weekday}.",
    "student.back.quiz": "It comes back before the quiz on {day}.",
    "student.back.exam": "It comes back before the exam on {day}.",
    "student.back.weeks": {
        "one": "This one comes back in about a week.",
        "other": "This one comes back in about {n} weeks.",
    },
    "student.end": "That is all for now: {right} of {n} right.{ahead}",
    "student.ahead.quiz": {
        "one": " One evening is left before the quiz on {day}.",
        "other": " {n} evenings are left before the quiz on {day}.",
    },
    "student.ahead.exam": {
        "one": " One evening is left before the exam on {day}.",
        "other": " {n} evenings are left before the exam on {day}.",
    },
    "student.put_off_before": "This question was put off. Type *next* to have it now.",
    "student.closed": "This question is closed; its topic comes back another day.",
    "student.unreadable.empty": "I could not read an answer in that. Please type it again. (Nothing counted yet.)",
    "student.unreadable.long": "That is too long for me to read. One short answer is enough. (Nothing counted yet.)",
    "student.unreadable.option": "Please answer with a letter from A to {last}. (Nothing counted yet.)",
    "student.unreadable.options": "That fits more than one. Please answer with one letter. (Nothing counted yet.)",
    "student.unreadable.number": (
        "I could not read a number in that. Please write it in figures, for example 3.5. (Nothing counted yet.)"
    ),
    "student.unreadable.unit": "I do not know the unit “{read_as}”. Please write it another way. (Nothing counted.)",
    "student.unit_missing": "Which unit? Choose one or type it. (Nothing counted yet.)",
    "student.unreadable.formula": (
        "I could not read a formula in that. Please write it like m v^2 / 2 or sqrt(2 g h). (Nothing counted yet.)"
    ),
    "student.unreadable.subject": "Please give {read_as}, for example {read_as} = … (Nothing counted yet.)",
    # nothing to ask
    "student.nothing.over": "These questions are over; new ones come by themselves.",
    "student.nothing.cap": "That is ten questions today, which is enough. More tomorrow.",
    "student.nothing.nothing": "Nothing needs a check just now. I will write when something does.",
    "student.nothing.empty": "There are no questions for your topics yet. I will write as soon as there are.",
    "student.nothing.waiting": "Your school’s permission is still missing. Please ask your teacher.",
    "student.nothing.paused": "You are paused. Type *resume* to go on.",
    # why
    "student.why.nothing": "I have not asked you anything yet.",
    "student.why.unknown": "*{topic}* was asked because it was due; I kept no numbers for it.",
    "student.why.days": {"one": "a day ago", "other": "{n} days ago"},
    "student.why.recent": "within the last day",
    "student.why.new": "You last met *{topic}* {met}, and I have not asked you about it before.",
    "student.why.met": {
        "one": "You last met *{topic}* {met}, and had it right {right} of 1 time.",
        "other": "You last met *{topic}* {met}, and had it right {right} of {n} times.",
    },
    "student.why.now": "When I chose it I expected about {now} ({low}–{high}).",
    "student.why.quiz": "One check lifts {day} from about {without} to about {lifted}.",
    "student.why.long": "One check lifts the coming months from about {without} to about {lifted}.",
    "student.why.best": "No other topic gained as much.",
    # progress
    "student.progress.nothing": "Nothing has been taught in {name} yet, so there is nothing to show.",
    # settings
    "student.pause": "For how long? You can also type a day, such as 20 Dec, or 10 days.",
    "student.pause.unreadable": "I could not read a day in that. Please type for example 2 weeks, or 20 Dec.",
    "student.time": "Your questions come at {now}. When do you want them? You can also type a time, such as 17:15.",
    "student.time.unreadable": "I could not read a time in that. Please type it like 17:15.",
    "student.quiet": (
        "Your class is quiet from {start} to {end}. To add quiet hours of your own, type for example 19:00-08:00; "
        "type off for those of the class alone."
    ),
    "student.quiet.unreadable": "I could not read hours in that. Please type them like 19:00-08:00, or off.",
    "student.zone": "Your time zone is that of {zone}. Type your city to change it.",
    "student.zone.unknown": "I know no time zone of “{text}”. Please type a large city near you, such as Lisbon.",
    "student.zone.which": "Which one?",
    "student.done.paused": "Paused. Type *resume* when you want to go on.",
    "student.done.paused_until": "Paused until {day}. Type *resume* to go on earlier.",
    "student.done.resumed": "Good, I go on.",
    "student.done.not_paused": "You are not paused.",
    "student.done.time": "Done: your questions come at {minute}.",
    "student.done.quiet": "Done: nothing from {start} to {end}, beside the quiet hours of your class.",
    "student.done.quiet_off": "Done: the quiet hours of your class hold.",
    "student.done.zone": "Done: I go by the clock of {zone}.",
    "student.done.homework": "Noted: homework on {topic} is done.",
    "student.done.homework_open": "Noted: homework on {topic} is not done yet.",
    "student.done.homework_teacher": "Your teacher has noted the homework on {topic} already, and that stands.",
    "student.refused": "That did not work: {why}",
    # leaving
    "student.leave": "Leave {name}? I stop asking. Your answers stay until you type *erase*.",
    "student.leave.which": "Which class?",
    "student.left": "You have left {name}. The class code lets you in again.",
    # the rest
    "student.help": "You can type:",
    "student.unknown": "I did not understand that. Type *next* for questions, *help* for the rest.",
    "student.file": "I cannot use files from students. Type *help* for what I can do.",
    "student.no_class": "You are in no class at the moment. Type *join* and the code from your teacher.",
    "command.next": "questions now",
    "command.why": "why this question, now",
    "command.progress": "what I expect you to know",
    "command.pause": "no questions for a while",
    "command.resume": "go on after a pause",
    "command.time": "the time of day of your questions",
    "command.quiet": "your quiet hours",
    "command.zone": "your time zone",
    "command.leave": "leave a class",
    "command.help": "what you can type",
    "student.button.start": "Start",
    "student.button.hour": "In an hour",
    "student.button.not_today": "Not today",
    "student.button.unsure": "Not sure",
    "student.button.later": "Later",
    "student.button.homework_done": "Homework done",
    "student.button.homework_open": "Not yet",
    "student.button.homework_done.of": "{topic}: done",
    "student.button.homework_open.of": "{topic}: not yet",
    "student.button.keep_going": "Keep going",
    "student.button.pause": "Pause until …",
    "student.button.leave": "Leave",
    "student.button.pause_week": "A week",
    "student.button.pause_weeks": "Two weeks",
    "student.button.pause_open": "Until I type resume",
    "student.button.leave_class": "Leave {name}",
    "student.button.stay": "Stay",
}
