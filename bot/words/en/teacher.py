"""English: teacher."""

from __future__ import annotations

from collections.abc import Mapping

COMMANDS: Mapping[str, str] = {
    "command.help": "these words",
    "command.cancel": "stop what was being asked",
    "command.create": "make a class",
    "command.class": "choose the class to work on",
    "command.code": "code, link and picture for joining",
    "command.invite": "a code for another teacher of the class",
    "command.close": "end the class",
    "command.channel": "the class's channel or group",
    "command.upload": "which files you can send",
    "command.undo": "take back what was applied last",
    "command.timetable": "what comes next",
    "command.topic": "start a topic",
    "command.topics": "what was taught, with its questions",
    "command.add": "add self-check questions",
    "command.questions": "see, edit or retire questions",
    "command.homework": "who did it, and corrections",
    "command.absent": "who missed a lesson",
    "command.holiday": "days without school",
    "command.quiz": "quizzes to come, and their days",
    "command.students": "who has joined",
    "command.permit": "note a permission",
    "command.rules": "times, limits, hours, report",
    "command.report": "the week so far",
    "command.workbook": "the week as a workbook",
    "command.forecast": "the next quiz, as things stand",
    "command.starter": "questions to begin the next lesson with",
    "command.quality": "which questions do not work",
    "command.illustration": "what review does, from your timetable",
    "command.letters": "a page per student, for parents",
    "command.comparison": "predicted and actual quiz results",
    "command.share": "post a summary to the channel",
    "command.export": "everything of the class as files",
    "command.records": "answers as open learning records",
}

BUTTONS: Mapping[str, str | Mapping[str, str]] = {
    "teacher.button.create": "Make a class",
    "teacher.button.skip": "Leave it out",
    "teacher.button.new_code": "New code, stop this one",
    "teacher.button.close": "End the class",
    "teacher.button.bind_more": "Add another place",
    "teacher.button.unbind": "Let “{title}” go",
    "teacher.button.cancel": "Cancel",
    "teacher.button.use_all": "Use it",
    "teacher.button.use_rest": {"one": "Use the other row", "other": "Use the other {n} rows"},
    "teacher.button.apply": "Apply",
    "teacher.button.show_me": "Show me",
    "teacher.button.two_topics": "They are two topics",
    "teacher.button.kind.timetable": "Timetable",
    "teacher.button.kind.questions": "Questions",
    "teacher.button.kind.roster": "Class list",
    "teacher.button.kind.scores": "Quiz scores",
    "teacher.button.looks_right": "Looks right",
    "teacher.button.change": "Change",
    "teacher.button.not_a_topic": "Not a topic",
    "teacher.button.is_a_topic": "It is a topic",
    "teacher.button.rename": "Another name",
    "teacher.button.homework": "Homework",
    "teacher.button.questions": "Questions",
    "teacher.button.quiz_date": "Quiz date",
    "teacher.button.enough": "That’s all",
    "teacher.button.edit": "Edit it",
    "teacher.button.retire": "Retire it",
    "teacher.button.edit_number": "Edit {position}",
    "teacher.button.retire_number": "Retire {position}",
    "teacher.button.add_question": "Add questions",
    "teacher.button.drop_holiday": "Take away {name}, {day}",
    "teacher.button.move_quiz": "Move the one on {day}",
    "teacher.button.permit_list": "Note permissions",
    "teacher.button.permit": "Permission is here",
    "teacher.button.permit_code": "Code for the parents",
    "teacher.button.permit_all": "All {n} of them",
    "teacher.button.remove": "Remove from the class",
    "teacher.button.remove_yes": "Remove",
    "teacher.button.keep": "Keep",
    "teacher.button.help": "Show me the words",
    "teacher.button.share": "Summary to the channel",
    "teacher.button.rule.nudge": "Time of questions",
    "teacher.button.rule.quiet": "Quiet hours",
    "teacher.button.rule.questions": "Questions at a time",
    "teacher.button.rule.nudges": "Times a day",
    "teacher.button.rule.allowance": "Limit per term",
    "teacher.button.rule.lessons": "Lesson hours",
    "teacher.button.rule.days": "School days",
    "teacher.button.rule.holidays": "On holidays",
    "teacher.button.rule.report": "Weekly report",
    "teacher.button.rule.permission": "Permission",
    "teacher.button.rule.zone": "Time zone",
    "teacher.button.rule.keep": "Keep data until",
    "teacher.button.pull.report": "Report",
    "teacher.button.pull.workbook": "Workbook",
    "teacher.button.pull.forecast": "Forecast",
    "teacher.button.pull.starter": "Starter",
    "teacher.button.pull.quality": "Questions",
}

SETUP: Mapping[str, str] = {
    "teacher.welcome": (
        "Welcome. You can make classes here now.\nWhat is your first class called? For example 10B Physics."
    ),
    "teacher.welcome_class": "You are a teacher of *{name}* now. Type *help* for what you can do.",
    "teacher.ask_name": "What is the class called? For example 10B Physics.",
    "teacher.ask_name_again": "A class needs a name of 1 to 80 characters. For example 10B Physics.",
    "teacher.ask_subject": "*{name}*: which subject do you teach them?",
    "teacher.ask_self": "What do your students call you? For example Ms Okafor. They see it when they join.",
    "teacher.ask_zone": "In which time zone is the school? Tap, or type a city such as London.",
    "teacher.zone_unknown": (
        "I know no time zone “{text}”. Type a large city in the same zone, for example London or "
        "Europe/Berlin."
    ),
    "teacher.zone_which": "Which of these?",
    "teacher.created": (
        "*{name}* is ready. Next: send me your timetable as a file (CSV, Excel, OpenDocument or calendar), "
        "then questions. Please make sure of your school’s rules and of parents’ permission first; "
        "*rules* has a setting for it. Here is the code for your students:"
    ),
    "teacher.choose_class": "You are at *{name}*. Which class?",
    "teacher.class_chosen": "Now at *{name}*. What you send or ask is about this class.",
    "teacher.no_class": "You have no class yet. Make one first.",
    "teacher.code_with_link": (
        "*{name}* – to join, students open {link} or scan this picture, or send me the code *{code}*.\n"
        "Whoever has it can join; *students* shows who did."
    ),
    "teacher.code_only": "All earlier codes of this class are stopped.",
    "teacher.code_alone": (
        "*{name}* – to join, students send me the code *{code}*; the picture holds the same code.\n"
        "Whoever has it can join; *students* shows who did."
    ),
    "teacher.invited": (
        "Give this code to one colleague: *{code}*. Sent to me within 7 days, it makes them a "
        "teacher of *{name}*, "
        "with the same rights as yours. It works once."
    ),
    "teacher.close_sure": (
        "End *{name}*? Nobody is asked any more, nobody can join, and the class is shown no longer, to you neither. "
        "What is stored goes after {until}. *export* first if you want to keep it."
    ),
    "teacher.closed": "*{name}* has ended.",
    "teacher.channel_code": (
        "Add me to the channel or group of *{name}*, with the right to write there; in a Telegram group as an "
        "administrator, or I hear nothing. Then post this code in it within a day: "
        "*{code}*"
    ),
    "teacher.channels": (
        "Bound to this class: {titles}. A line such as “New topic: Hooke’s law” there starts a topic."
    ),
    "teacher.channel_bound": "“{title}” belongs to *{name}* now. Post “New topic: …” there to start a topic.",
    "teacher.channel_gone": "“{title}” no longer belongs to this class.",
    "teacher.channel_lost": (
        "I was removed from “{title}”. Topics posted there no longer reach me; nothing stored is lost. "
        "Add me again, or type *channel* for another place."
    ),
    "teacher.channel_limited": (
        "I may no longer write in “{title}”. I still read topics there. Give me the right to "
        "write if I am to post summaries."
    ),
    "teacher.channel_back": "I am in “{title}” again. It still belongs to *{name}*.",
}

FILES: Mapping[str, str | Mapping[str, str]] = {
    "teacher.reading": "Reading *{name}* …",
    "teacher.file_too_large": (
        "*{name}* is larger than {mb} MB. Send a smaller file, for example without pictures."
    ),
    "teacher.file_failed": "I could not use *{name}*. Nothing is stored.",
    "teacher.file_unknown": "What is *{name}*?",
    "teacher.upload_help": (
        "For *{name}* you can send me, as CSV, Excel or OpenDocument file:\n"
        "• timetable: date, topic, kind (lesson, quiz, holiday), homework; a calendar file (.ics) works too\n"
        "• questions: topic, question, answer, wrong options, unit, tolerance, explanation; why wrong and steps "
        "for who misses it; values (s = 20..120 step 10) where each student gets numbers of their own\n"
        "• class list: name\n"
        "• quiz scores: student, quiz, score, out of\n"
        "Nothing is stored before you have seen what I read."
    ),
    "teacher.preview": {
        "one": "I read *1 row* of *{name}*",
        "other": "I read *{n} rows* of *{name}*",
    },
    "teacher.rows_need_you": {"one": "*1 row needs you:*", "other": "*{n} rows need you:*"},
    "teacher.left_out": "*Left out, because I cannot place it:*",
    "teacher.remarks": "*Please look at this:*",
    "teacher.more": {"one": "… and 1 more.", "other": "… and {n} more."},
    "teacher.decide_first": "I need to know this first. Nothing is stored yet.",
    "teacher.nothing_usable": "There is nothing in it that I can use. Send the corrected file.",
    "teacher.nothing_new": "That is just what I have. Nothing to change.",
    "teacher.rest_not_new": "The other rows are just what I have. Send the corrected file.",
    "teacher.which_quiz": "Which quiz are these scores of?",
    "teacher.compared": "Compared with what I have: {changes}.",
    "teacher.not_stored": "Nothing is stored yet.",
    "teacher.nothing_dropped": "nothing dropped",
    "teacher.changes": "*What would change:*\n{list}",
    "teacher.contents": "*What I read:*\n{list}",
    "teacher.applied": "Done: {counts}. Type *undo* to take it back.",
    "teacher.applied_nothing": "Done: nothing had to change.",
    "teacher.reviews_follow": "Reviews follow.",
    "teacher.without_questions": {
        "one": "*1 topic* has no questions yet, so nobody can be asked about it. *topics* shows which.",
        "other": (
            "*{n} topics* have no questions yet, so nobody can be asked about them. *topics* shows which."
        ),
    },
    "teacher.dropped": "Forgotten. Nothing was stored.",
    "teacher.undone": "Taken back: {name}. Everything is as it was before.",
    "teacher.kept.homework": "homework of {value}",
    "teacher.kept.holiday": "holiday from {value}",
    "teacher.kept.no_holiday": "no holiday from {value}",
    "teacher.kept.quiz": "quiz moved from {value}",
    "teacher.kept.topic": "topic {value}",
    "teacher.kept.name": "new name of {value}",
    "teacher.kept.question": "question {value}",
    "teacher.kept.questions": "questions from {value} on",
    "teacher.kept.retired": "retired question {value}",
    "teacher.nothing_to_undo": "There is nothing to take back.",
}

COUNTS: Mapping[str, str | Mapping[str, str]] = {
    "teacher.count.lessons": {"one": "1 lesson", "other": "{n} lessons"},
    "teacher.count.quizzes": {"one": "1 quiz", "other": "{n} quizzes"},
    "teacher.count.holidays": {"one": "1 holiday", "other": "{n} holidays"},
    "teacher.count.questions": {"one": "1 question", "other": "{n} questions"},
    "teacher.count.choice": {"one": "1 choice", "other": "{n} choices"},
    "teacher.count.number": {"one": "1 number", "other": "{n} numbers"},
    "teacher.count.text": {"one": "1 short text", "other": "{n} short texts"},
    "teacher.count.formula": {"one": "1 formula", "other": "{n} formulas"},
    "teacher.count.topics": {"one": "for 1 topic", "other": "for {n} topics"},
    "teacher.count.new_topics": {"one": "1 topic new to me", "other": "{n} topics new to me"},
    "teacher.count.students": {"one": "1 student", "other": "{n} students"},
    "teacher.count.scores": {"one": "1 score", "other": "{n} scores"},
    "teacher.change.moved": {"one": "1 moved", "other": "{n} moved"},
    "teacher.change.renamed": {"one": "1 renamed", "other": "{n} renamed"},
    "teacher.change.changed": {"one": "1 changed", "other": "{n} changed"},
    "teacher.change.new": {"one": "1 new", "other": "{n} new"},
    "teacher.change.dropped": {"one": "1 dropped", "other": "{n} dropped"},
    "teacher.applied.lessons": {"one": "1 lesson", "other": "{n} lessons"},
    "teacher.applied.quizzes": {"one": "1 quiz", "other": "{n} quizzes"},
    "teacher.applied.holidays": {"one": "1 holiday", "other": "{n} holidays"},
    "teacher.applied.moved": {"one": "1 moved", "other": "{n} moved"},
    "teacher.applied.renamed": {"one": "1 renamed", "other": "{n} renamed"},
    "teacher.applied.changed": {"one": "1 changed", "other": "{n} changed"},
    "teacher.applied.new": {"one": "1 new", "other": "{n} new"},
    "teacher.applied.dropped": {"one": "1 dropped", "other": "{n} dropped"},
    "teacher.applied.added_questions": {"one": "1 question added", "other": "{n} questions added"},
    "teacher.applied.changed_questions": {"one": "1 question changed", "other": "{n} questions changed"},
    "teacher.applied.students": {"one": "1 name added", "other": "{n} names added"},
    "teacher.applied.added_scores": {"one": "1 score added", "other": "{n} scores added"},
    "teacher.applied.changed_scores": {"one": "1 score corrected", "other": "{n} scores corrected"},
    "teacher.line.moved": "{what}: {before} → {after}",
    "teacher.line.renamed": "{before} → {after}: the same topic, renamed",
    "teacher.line.guessed": "{before} → {after}: I take it as the same topic, because of its day",
    "teacher.line.changed": "{what}, {day}: changed",
    "teacher.line.new": "new: {what}, {day}",
    "teacher.line.dropped": "dropped: {what}, {day}",
    "teacher.line.choice": "{topic}: {prompt} → {answer} (choice)",
    "teacher.line.number": "{topic}: {prompt} → {answer} (number)",
    "teacher.line.text": "{topic}: {prompt} → {answer} (short text)",
    "teacher.line.formula": "{topic}: {prompt} → {answer} (formula)",
    "teacher.line.unknown_student": "Row {row}: no student “{name}” in this class, or two of that name",
    "teacher.line.unknown_quiz": "Row {row}: no quiz “{name}” in the timetable",
    "teacher.line.unknown_topic": "Row {row}: no topic “{name}” in this class",
}

TOPICS: Mapping[str, str | Mapping[str, str]] = {
    "teacher.topic.noted": "Noted for *{name}*: {topic}, taught {day}",
    "teacher.topic.in_quiz": ", in the quiz on {day}",
    "teacher.topic.homework": "Homework: {text}.",
    "teacher.topic.questions": {
        "one": "There is 1 question for it.",
        "other": "There are {n} questions for it.",
    },
    "teacher.topic.from": "First checks go out on {day}.",
    "teacher.topic.no_questions": (
        "There are *no questions* for it yet, so nobody can be asked. Tap *Looks right* and send them here, "
        "one per message (question / answer), or send a sheet."
    ),
    "teacher.topic.remind": "I will remind you on {day} at 15:00.",
    "teacher.topic.unclear": "I did not understand these lines, and left them out:",
    "teacher.topic.which_day": "Which day is the quiz?",
    "teacher.topic.right": "Good. *{topic}* is in the plan.",
    "teacher.topic.change": "What about *{topic}* shall I change?",
    "teacher.topic.doubtful": "In {name} you wrote about “{topic}”. Is that a new topic, taught today?",
    "teacher.topic.nameless": (
        "In {name} you started a topic, but I found no name. Post it as “New topic: Hooke’s law”, "
        "or send me “topic Hooke’s law” here."
    ),
    "teacher.topic.taken_back": "Taken back. It was no topic.",
    "teacher.topic.forgotten": "Good, I leave it alone.",
    "teacher.topic.renamed": "It is *{topic}* now. Its questions and reviews stay.",
    "teacher.topic.homework_set": (
        "Homework for *{topic}*: {text}. Students are asked about it in the evening."
    ),
    "teacher.topic.homework_cleared": "No homework for *{topic}*.",
    "teacher.ask_topic": (
        "What is the topic? For example: Hooke’s law. More lines can follow: homework: …, quiz: "
        "11 Dec, question / answer."
    ),
    "teacher.ask_rename": "What shall *{topic}* be called?",
    "teacher.ask_homework": "What is the homework for *{topic}*? Write *none* to clear it.",
    "teacher.no_topics": "There is no topic yet. Send me your timetable, or “topic Hooke’s law”.",
    "teacher.topics": "Taught so far: {taught} of {n} topics. The latest:\n{list}",
    "teacher.topic_line": {
        "one": "{topic} ({day}): 1 question",
        "other": "{topic} ({day}): {n} questions",
    },
    "teacher.remind_questions": {
        "one": (
            "*{names}* has no questions yet, so nobody in {class_name} is asked about it. Send them "
            "one per message (question / answer), or a sheet."
        ),
        "other": (
            "These topics have no questions yet, so nobody in {class_name} is asked about them: "
            "*{names}*. Choose one to add some, or send a sheet."
        ),
    },
    "teacher.which_topic": "For which topic? Tap, or type its name.",
    "teacher.question_for": {
        "one": "A question, good. For which topic? Tap, or type its name.",
        "other": "{n} questions, good. For which topic? Tap, or type its name.",
    },
    "teacher.which_list": "The questions of which topic? Tap, or type its name.",
    "teacher.topic_unknown": "I know no topic “{text}” in this class. *topics* lists them.",
    "teacher.ask_questions": (
        "Send the questions for *{topic}*, one a line:\n"
        "question / answer\n"
        "question / right answer / wrong / wrong / wrong\n"
        "A picture with such a caption works too. More lines can follow: unit: …, tolerance: …, because: …"
    ),
    "teacher.question_form": (
        "I need a question and its answer for *{topic}*, with a slash and blanks between them:\n"
        "What is the unit of force? / newton / joule / watt\n"
        "Type *cancel* to stop."
    ),
    "teacher.picture_form": (
        "A picture needs a caption with the question and its answer: question / answer. Please "
        "send it again with one. "
        "A sheet or timetable comes as a file, not as a photo."
    ),
    "teacher.question_added": {
        "one": "Added to *{topic}* (its first): {shown}. The next, or tap *That’s all*.",
        "other": "Added to *{topic}* ({n} now): {shown}. The next, or tap *That’s all*.",
    },
    "teacher.questions_added": {
        "one": "Added to *{topic}* ({total} now):\n{list}\nThe next, or tap *That’s all*.",
        "other": "Added {n} questions to *{topic}* ({total} now):\n{list}\nThe next, or tap *That’s all*.",
    },
    "teacher.questions_refused": "Not added:",
    "teacher.edit_one": "That is more than one question. Please send the one that takes this place.",
    "teacher.question_changed": "Changed: {shown}.",
    "teacher.question_retired": "Retired: “{prompt}”. It is not asked any more; *undo* brings it back.",
    "teacher.shown.choice": "“{prompt}” – a choice; right: {answer}",
    "teacher.shown.number": "“{prompt}” – a number: {answer}",
    "teacher.shown.text": "“{prompt}” – a short text: {answer}",
    "teacher.shown.formula": "“{prompt}” – a formula: {answer}",
    "teacher.enough": {
        "one": "*{topic}* has 1 question now.",
        "other": "*{topic}* has {n} questions now.",
    },
    "teacher.enough_any": "Good.",
    "teacher.no_questions": "*{topic}* has no questions yet.",
    "teacher.questions": {"one": "*{topic}*: 1 question", "other": "*{topic}*: {n} questions"},
    "teacher.question_line": "{position}. {prompt} → {answer}",
    "teacher.question_line_picture": "{position}. [picture] {prompt} → {answer}",
    "teacher.answered": {"one": " (answered once)", "other": " (answered {n} times)"},
    "teacher.earlier_questions": {"one": "… and 1 before these.", "other": "… and {n} before these."},
    "teacher.edit_question": (
        "Send the question as it should be. It is now:\n{line}\nType *cancel* to leave it."
    ),
}

CALENDAR: Mapping[str, str | Mapping[str, str]] = {
    "teacher.quiz": "quiz",
    "teacher.exam": "exam",
    "teacher.holiday": "holiday",
    "teacher.ahead": (
        "*What comes next*\n{list}\nSend me a file to change it, or use *quiz*, *holiday*, *topic*."
    ),
    "teacher.nothing_ahead": (
        "There is nothing ahead in the timetable. Send me one as a file, or post a topic."
    ),
    "teacher.no_homework": (
        "There was no homework in the last four weeks. Add it in a topic post: homework: page 12."
    ),
    "teacher.which_homework": "Which homework?",
    "teacher.homework_list": "*{topic}*: {done} of {n} did the homework. Tap a name to correct it.",
    "teacher.hw.done": "✓ {name}",
    "teacher.hw.not": "✗ {name}",
    "teacher.hw.unknown": "? {name}",
    "teacher.no_lesson_yet": "There was no lesson in the last four weeks.",
    "teacher.which_lesson": "Who missed which lesson? You can also type: absent Tom, Mira.",
    "teacher.absence": {
        "one": "*{topic}*, {day}: 1 student missed it. Tap a name to change it.",
        "other": "*{topic}*, {day}: {n} students missed it. Tap a name to change it.",
    },
    "teacher.absent.yes": "✗ {name} was away",
    "teacher.absent.no": "{name}",
    "teacher.absent_noted": (
        "Noted: {names} missed *{topic}* on {day}. The lesson does not count as taught to them."
    ),
    "teacher.student_unknown": (
        "I do not know who is meant by {names}, or two have that name. *students* lists them."
    ),
    "teacher.absent_unknown": "Nobody was noted. {why}",
    "teacher.ask_holiday": "Which days are without school? For example: 21 Dec - 3 Jan winter break.",
    "teacher.holiday_unread": (
        "I could not read days in “{text}”. For example: 21 Dec - 3 Jan winter break, or "
        "2026-12-08 training day."
    ),
    "teacher.holiday_added_day": "No questions on {first}. Reviews follow.",
    "teacher.holiday_added": "No questions from {first} to {last}. Reviews follow.",
    "teacher.holiday_known": "I have that holiday already.",
    "teacher.holiday_dropped_day": "{first} is a school day again. Reviews follow.",
    "teacher.holiday_dropped": "{first} to {last} are school days again. Reviews follow.",
    "teacher.no_quiz": "There is no quiz ahead. Add one to your timetable, or in a topic post: quiz: 11 Dec.",
    "teacher.quizzes": "*Quizzes ahead*\n{list}",
    "teacher.quiz_line": {"one": "{day}: {name}, 1 topic", "other": "{day}: {name}, {n} topics"},
    "teacher.ask_quiz_day": "On which day is it now (*{name}*)? For example 14 Dec.",
    "teacher.day_unread": "I could not read a day in “{text}”. For example 14 Dec, Friday, or 2026-12-14.",
    "teacher.which_day": "Which of these days?",
    "teacher.day_past": "{day} is past. Which day ahead?",
    "teacher.quiz_moved": "The quiz is on {day} now. Reviews follow.",
    "teacher.quiz_same": "The quiz is on {day} already.",
    "teacher.day_off": "{day} is no school day of this class.",
    "teacher.left_standing": (
        "*Planned on days that have no school now*\n{list}\nNothing was moved. A changed timetable moves lessons."
    ),
    "teacher.left_standing_quiz": (
        "*Planned on days that have no school now*\n{list}\n"
        "Nothing was moved. *quiz* moves a quiz, a changed timetable moves lessons."
    ),
    "teacher.days_off": "{first} and {last} are no school days of this class.",
}

STUDENTS: Mapping[str, str | Mapping[str, str]] = {
    "teacher.no_students": "Nobody has joined yet. *code* shows how.",
    "teacher.students": "{list}\nTap a name for more.",
    "teacher.students.asked": {"one": "1 is asked: {names}", "other": "{n} are asked: {names}"},
    "teacher.students.paused": {"one": "1 has paused: {names}", "other": "{n} have paused: {names}"},
    "teacher.students.waiting": {
        "one": "1 waits for permission: {names}",
        "other": "{n} wait for permission: {names}",
    },
    "teacher.students.not_joined": {
        "one": "1 has not joined: {names}",
        "other": "{n} have not joined: {names}",
    },
    "teacher.student.active": "*{name}* is asked questions.",
    "teacher.student.paused": "*{name}* has paused.",
    "teacher.student.waiting": (
        "*{name}* has agreed and waits for the school’s permission. Nothing is asked before."
    ),
    "teacher.student.not_joined": "*{name}* is on the class list and has not joined.",
    "teacher.nobody_waits": "Nobody waits for permission.",
    "teacher.permit_whom": {
        "one": "Whose permission is here? 1 student waits.",
        "other": "Whose permission is here? {n} students wait.",
    },
    "teacher.permitted": {
        "one": "Noted for {names}. Questions start with the next lesson day.",
        "other": "Noted for {n} students: {names}. Questions start with the next lesson day.",
    },
    "teacher.permission_code": (
        "Give this code to *{name}*’s parents: *{code}*. Who sends it to me within 30 days gives "
        "the permission. "
        "It works once."
    ),
    "teacher.ask_student": "What shall *{name}* be called in this class?",
    "teacher.student_renamed": "It is *{name}* now.",
    "teacher.remove_sure": (
        "Remove *{name}* from the class? Nothing is asked any more; the answers stay until they are erased."
    ),
    "teacher.removed": "*{name}* is no longer in the class.",
}

RULES: Mapping[str, str] = {
    "teacher.yes": "yes",
    "teacher.no": "no",
    "teacher.no_limit": "none",
    "teacher.not_given": "not given",
    "teacher.keep_default": "the end of the school year",
    "teacher.rules": (
        "*Rules*\n"
        "Questions at {nudge}, {questions} at a time, {nudges} × a day\n"
        "Quiet hours {quiet}\n"
        "Lesson hours: {lessons}\n"
        "School days: {days}; on holidays: {holidays}\n"
        "Limit per student and term: {allowance}\n"
        "Weekly report: {report}\n"
        "Permission of the school needed: {permission}\n"
        "Time zone {zone}; data kept until {keep}"
    ),
    "teacher.ask_rule.nudge": (
        "At what time shall questions go out? For example 18:00. Students can choose their own."
    ),
    "teacher.ask_rule.quiet": "From when to when shall nothing be sent? For example 20:00-07:30.",
    "teacher.ask_rule.questions": "How many questions at a time? 3 is usual; at most 10 a day in all.",
    "teacher.ask_rule.nudges": "How often a day, 1 or 2?",
    "teacher.ask_rule.allowance": (
        "How many questions may a student get in a whole term? A number, or *none*."
    ),
    "teacher.ask_rule.lessons": (
        "When are lessons? Nothing is sent then. For example: Mon 8:00-8:45, Wed 10:00-11:30; or *none*."
    ),
    "teacher.ask_rule.days": "Which are school days? For example: Mon Tue Wed Thu Fri.",
    "teacher.ask_rule.holidays": "Shall questions go out on holidays too? *yes* or *no*.",
    "teacher.ask_rule.report": "When shall the weekly report come? For example: Fri 15:30.",
    "teacher.ask_rule.permission": (
        "Must the school’s or parents’ permission be noted before a student is asked? *yes* or *no*."
    ),
    "teacher.ask_rule.zone": "In which time zone is the school? For example Europe/London, or a city.",
    "teacher.ask_rule.keep": "Until which day shall answers be kept? For example 31 July 2027.",
}

PULLS: Mapping[str, str] = {
    "teacher.pulling.report": "Working out the week …",
    "teacher.pulling.workbook": "Writing the workbook …",
    "teacher.pulling.forecast": "Working out the forecast …",
    "teacher.pulling.starter": "Choosing questions …",
    "teacher.pulling.quality": "Looking at the questions …",
    "teacher.pulling.illustration": "Drawing …",
    "teacher.pulling.letters": "Writing the letters …",
    "teacher.pulling.export": "Collecting everything …",
    "teacher.pulling.records": "Writing the records …",
    "teacher.pulling.comparison": "Comparing …",
    "teacher.pulling.summary": "Working out the summary …",
    "teacher.made.week": "The week as a picture.",
    "teacher.made.workbook": "The same as a workbook, to sort and filter.",
    "teacher.made.forecast": "The forecast as a picture. A forecast is not a grade.",
    "teacher.made.starter": "To project.",
    "teacher.made.illustration": "What review does. A rule of thumb, not a prediction.",
    "teacher.made.letters": "One page per student. Print it from a browser.",
    "teacher.made.letters_pdf": "One page per student, to print.",
    "teacher.made.export": "Everything of the class. It holds names: keep it safe.",
    "teacher.made.records": (
        "Every answer as an xAPI statement and as a table with its data dictionary. Students appear under pseudonyms, "
        "the same each time; *records names* writes their names."
    ),
    "teacher.made.records_named": (
        "Every answer as an xAPI statement and as a table with its data dictionary, *with names*: keep it safe."
    ),
    "teacher.made.comparison": "Predicted and actual results.",
    "teacher.week_unread": "I could not read a week in “{text}”. Write it as in: week 48, or: last week.",
    "teacher.week_ahead": "The week of {day} has not begun.",
    "teacher.records_unread": "I know *records* and *records names*, not “{text}”. Nothing was written.",
    "teacher.nothing_yet": "There is nothing to show yet.",
    "teacher.starter_counted": "Noted. The model takes it for the class as a whole.",
    "teacher.no_channel": "There is no channel that I may write in. *channel* binds one.",
    "teacher.which_channel": "To which place?",
    "teacher.shared": "Posted to “{title}”.",
    "teacher.shared_before": "The same summary stands in “{title}” already, so I do not post it again.",
}

GENERAL: Mapping[str, str] = {
    "teacher.not_understood": (
        "I did not understand that. Send a file, a topic (“New topic: …”), a question (question "
        "/ answer), or type *help*."
    ),
    "teacher.help": "Files, topics and questions you just send. Or type a word:",
    "teacher.cancelled": "Stopped. Nothing was stored.",
    "teacher.nothing_open": "There is nothing to stop.",
    "teacher.gone": "That is no longer there.",
    "teacher.refused": "{why}",
}

TEXTS: Mapping[str, str | Mapping[str, str]] = {
    **COMMANDS,
    **BUTTONS,
    **SETUP,
    **FILES,
    **COUNTS,
    **TOPICS,
    **CALENDAR,
    **STUDENTS,
    **RULES,
    **PULLS,
    **GENERAL,
}
