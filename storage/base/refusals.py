"""The words of what the storage refuses, by code: in one place, so that they can be read, corrected and translated.

A refusal that people meet carries its code and the values of its words (`storage.base.errors.refused`). Whoever speaks
another language finds its words by the code; the message of the error itself is the English one from here.
"""

from __future__ import annotations

from collections.abc import Mapping

REFUSALS: Mapping[str, str] = {
    # classes and people
    "not_teacher": "Only teachers of a class can see or change it.",
    "not_yours": "This belongs to somebody else.",
    "class_name": "A class needs a name of 1 to {most} characters, such as 10B Physics.",
    "class_ended": "This class has ended.",
    "last_teacher": "The last teacher of a class cannot go. Add another teacher first.",
    "only_teacher": "{name} has no other teacher. Add one, or close the class; then this can be erased.",
    "not_teaching": "This person does not teach the class.",
    "both_in_class": "You are in the same class on both platforms. Leave it on one of them first.",
    "person_name": "A name has 1 to {most} characters. A first name is enough.",
    "name_taken": "This name on the class list is taken already. Ask your teacher.",
    "not_asked": "Only a student who is being asked can pause.",
    # times
    "own_quiet_hours": "{at} lies in the quiet hours, {start} to {end}. Choose another time.",
    "class_quiet_hours": (
        "{at} lies in the quiet hours, {start} to {end}. Choose another time, or change the quiet hours."
    ),
    "quiet_needs_both": "Quiet hours need a start and an end.",
    "zone": "“{found}” is not a time zone. Write region and city, such as Europe/Berlin.",
    # rules
    "cap": "{nudges} times {questions} questions are {a_day} a day; at most {most} are allowed.",
    "rule_questions_per_nudge": "{low} to {most} questions at a time are possible, {most} a day in all.",
    "rule_nudges_per_day": "Questions can come {low} to {most} times a day.",
    "rule_term_allowance": "The limit for the term is a number of questions from {low} to {most}, or none.",
    "rule_target": "A target is between {low} and {most} percent, or none.",
    "lesson_hours": "A lesson has to end after it starts, on the same day.",
    # what is not there
    "no_lesson": "There is no such lesson in this class.",
    "no_topic": "There is no such topic in this class.",
    "no_quiz": "There is no such quiz in this class.",
    "no_holiday": "There is no such holiday in this class.",
    "no_student": "There is no such student in this class.",
    "no_class": "There is no such class.",
    "no_question": "There is no such question in this class, or it was retired.",
    "no_upload": "There is no such upload.",
    # files and posts
    "post_done": "That message was dealt with already.",
    "taken_back": "That was taken back already.",
    "file_done": "This file was dealt with already. Send it again to use it once more.",
    "file_useless": "There is nothing in {name} that can be used. Send a corrected file.",
    "which_quiz": "It is not clear which quiz these scores are of. Choose one first.",
    "no_writing": "I may not write there. The word channel binds a place again.",
    # timetable
    "topic_name": "A topic needs a name of 1 to {most} characters.",
    "topic_taken": "There is, or was, another topic called {name}. Choose another name.",
    "holiday_order": "The last day of a holiday is before its first day.",
    "holiday_long": "A holiday of more than {most} days is too long; please look at the dates.",
}
