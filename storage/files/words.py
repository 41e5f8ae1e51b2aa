"""The words for everything that can be wrong with an uploaded file.

One entry per kind of problem: how much is lost, what is wrong, what to do. They stand apart from the
code so that
they can be read, corrected and translated in one place.

Levels
------
``file``      nothing of the file can be used;
``row``       this row is left out, the others can be used;
``question``  the row can be read in two ways; the teacher picks one and the file is read again;
``note``      nothing is lost, but the teacher should know how it was read.
"""

from __future__ import annotations

from typing import Literal

Level = Literal["file", "row", "question", "note"]

# code: (level, what is wrong, what to do). ``{found}`` is the value as written in the file.
WORDS: dict[str, tuple[Level, str, str]] = {
    # --- the whole file
    "file_empty": (
        "file",
        "{name} is empty",
        "Save it once more in your spreadsheet program and send it again.",
    ),
    "file_large": (
        "file",
        "{name} has {size}; the limit is {limit}",
        "Send a file with one class and one school year only, without pictures.",
    ),
    "file_unpacked_large": (
        "file",
        "{name} unpacks to {size}; the limit is {limit}",
        "Copy the table into a new, empty workbook and send that.",
    ),
    "file_members": (
        "file",
        "{name} consists of {size} parts; the limit is {limit}",
        "Copy the table into a new, empty workbook and send that.",
    ),
    "file_costly": (
        "file",
        "{name} needs more time or memory to read than any real sheet does",
        "Copy the table into a new, empty workbook and send that.",
    ),
    "file_broken": (
        "file",
        "{name} looks like {kind}, but it is damaged and cannot be read",
        "Open it in your spreadsheet or calendar program, save it again, and send the new file.",
    ),
    "file_reader_lost": (
        "file",
        "{name} could not be read because the reading program could not be started",
        "Send it again in a minute; if it happens again, tell your technician.",
    ),
    "file_kind": (
        "file",
        "{name} is {kind}, which cannot be read here",
        "Save it as .xlsx, .ods or .csv and send that.",
    ),
    "file_macros": (
        "file",
        "{name} contains macros, and programs inside a file are never accepted",
        "Save it as an ordinary workbook (.xlsx) and send that.",
    ),
    "file_locked": (
        "file",
        "{name} is protected with a password",
        "Save it without a password and send it again.",
    ),
    "file_entities": (
        "file",
        "{name} contains declarations that no spreadsheet program writes",
        "Copy the table into a new, empty workbook and send that.",
    ),
    "file_encoding": (
        "file",
        "{name} is not readable as text: byte {offset} has no meaning in UTF-8, UTF-16 or Windows-1252",
        "In your spreadsheet program choose “CSV UTF-8” or .xlsx when saving.",
    ),
    "encoding_unclear": (
        "question",
        "the letters of {name} can be read in several ways: {ways}",
        "Say which one is right. Nothing is read before that.",
    ),
    "file_nul": (
        "file",
        "{name} is not a text file: it has a zero byte at position {offset}",
        "Save it as .xlsx, .ods or “CSV UTF-8” and send that.",
    ),
    "file_calendar": (
        "file",
        "{name} is a calendar, and {wanted} cannot come from a calendar",
        "Send {wanted} as a sheet (.xlsx, .ods or .csv).",
    ),
    "hidden_rows": (
        "question",
        "{name} has rows that are hidden or filtered out: {rows}",
        "Say whether they are meant. Nothing is read before that.",
    ),
    "hidden_columns": (
        "question",
        "{name} has hidden columns: {columns}",
        "Say whether they are meant. Nothing is read before that.",
    ),
    "hidden_both": (
        "question",
        "{name} has hidden rows ({rows}) and hidden columns ({columns})",
        "Say whether they are meant. Nothing is read before that.",
    ),
    "quote_open": (
        "file",
        "a quotation mark opens here and never closes, so the rest of the file is one single cell",
        "Close it, or save the sheet as .xlsx.",
    ),
    "rows_many": (
        "file",
        "{name} has more than {limit} rows",
        "Send one class and one school year at a time.",
    ),
    "columns_many": (
        "file",
        "{name} has something written beyond column {limit}",
        "Delete what stands to the right of the table, or copy the table into a new sheet.",
    ),
    "text_much": (
        "file",
        "{name} holds more than {limit} characters of text",
        "Send it in two files.",
    ),
    "rows_none": (
        "file",
        "{name} has a heading row and nothing below it",
        "Fill in the rows and send it again.",
    ),
    "headings_none": (
        "file",
        "{name} has no heading row that I know",
        "Put a first row with headings above the table: {wanted}.",
    ),
    "heading_missing": (
        "file",
        'there is no column "{wanted}"{hint}',
        'Add a heading "{wanted}" (also understood: {also}).',
    ),
    "heading_twice": (
        "file",
        'two columns mean "{wanted}": {found}',
        "Delete one of them or give it another heading.",
    ),
    # --- one cell or row
    "cell_long": ("row", "the text has {size} characters; the limit is {limit}", "Shorten it."),
    "cell_control": (
        "row",
        "the text “{found}” holds a character that cannot be shown",
        "Delete the cell and type it again.",
    ),
    "cell_error": (
        "row",
        "the cell shows the error {found}",
        "Correct the formula, or type the value itself.",
    ),
    "cell_formula": (
        "row",
        "the formula “{found}” has no saved result",
        "Open the file in your spreadsheet program, save it there, and send that; or type the value itself.",
    ),
    "cell_missing": ("row", "nothing is written here", "Write {wanted}, or delete the row."),
    "cells_extra": (
        "row",
        "the row has {size} cells, more than the {limit} of the heading row",
        "Put quotation marks around a text that contains the separator, or save the sheet as .xlsx.",
    ),
    "title_two_ways": (
        "question",
        '"{found}" can be a quiz or the topic of a lesson{more}',
        "Say which, or write it into a column for the kind.",
    ),
    "kind_unknown": ("row", '"{found}" is no kind of entry{hint}', "Write lesson, quiz, exam or holiday."),
    "date_unreal": ("row", '"{found}" is not a day that exists', "Write {order}, for example {example}."),
    "date_unread": ("row", '"{found}" is not a date', "Write {order}, for example {example}."),
    "date_no_year": ("row", '"{found}" has no year', "Write {order}, for example {example}."),
    "date_number": (
        "row",
        "{found} is a plain number, not a date",
        "Format the cell as a date{hint}.",
    ),
    "date_far": (
        "row",
        '"{found}" ({meant}) is more than {limit} days from today',
        "Correct the year, or leave the row out.",
    ),
    "date_weekday": (
        "row",
        '"{found}" does not fit: {meant} is a {weekday}',
        "Correct the day or the weekday.",
    ),
    "date_order": ("row", '"{found}" comes before the first day, {first}', "Exchange the two dates."),
    "holiday_long": (
        "row",
        "the holiday would last {size} days; the limit is {limit}",
        "Correct one of the two dates.",
    ),
    "date_two_ways": (
        "question",
        '"{found}" can be {first} or {second}{more}',
        "Say whether the day or the month comes first in this column.",
    ),
    "lesson_span": (
        "row",
        '"{found}" is another day than {first}, and a lesson is on one day',
        "Write one row for each lesson, or say holiday in the column for the kind.",
    ),
    "time_unread": ("row", '"{found}" is not a time of day', "Write hours and minutes, for example 08:30."),
    "time_order": ("row", '"{found}" is not later than the start, {first}', "Correct the start or the end."),
    "row_twice": (
        "row",
        '"{found}" stands already in row {other}',
        "Delete one of the two rows, or change it.",
    ),
    "topic_unknown": (
        "row",
        '"{found}" is not a topic of this timetable{hint}',
        "Write topics as they stand in their lessons, with ; between them.",
    ),
    # --- questions
    "question_kind": (
        "row",
        '"{found}" is no kind of question{hint}',
        "Write choice, number, text or formula, or leave it empty.",
    ),
    "question_topic": (
        "row",
        '"{found}" is not a topic of this class{hint}',
        "Write the topic as it stands in the timetable, or add it there first.",
    ),
    "options_none": ("row", "a choice question needs wrong options", "Write them, with | between them."),
    "options_many": ("row", "there are {size} wrong options; the limit is {limit}", "Keep the best ones."),
    "options_same": (
        "row",
        'the wrong option "{found}" is the same as {other}',
        "Change or delete one of the two.",
    ),
    "options_one": (
        "note",
        '"{found}" was read as one single wrong option',
        "If it is several, put | between them.",
    ),
    "key_two_ways": (
        "question",
        'the key "{found}" can name the option "{first}" or be the answer "{second}" itself',
        "Say how the keys of this sheet are meant.",
    ),
    "key_unknown": (
        "row",
        'the answer "{found}" is none of the options',
        "Write the letter of the right option, its number, or its text.",
    ),
    "key_several": (
        "row",
        'the key "{found}" names several options, and a choice has one right answer',
        "Keep one of them, or make two questions of it.",
    ),
    "key_beside": (
        "row",
        'the answer is only "{found}", and these columns beside it were not read: {columns}',
        "If they hold the options, give them the headings A, B, C and so on; else write the answer in full.",
    ),
    "key_inside": (
        "row",
        'the answer is only "{found}", and the options seem to stand in the question',
        "Write each option into a column of its own, with the headings A, B, C and so on.",
    ),
    "key_letter": (
        "row",
        'the answer is only "{found}", a letter beside wrong options that are words',
        "Write the answer in full.",
    ),
    "answer_number": ("row", '"{found}" is not a number', "Write it in figures, for example 2.7 or 3e8."),
    "number_two_ways": (
        "row",
        '"{found}" can be {first} or {second}',
        "Write it without a separator for thousands, for example {first} or {second}.",
    ),
    "drawn_idle": (
        "note",
        '"{found}" is not used: this question has no values that are drawn',
        "Write into the column values what is drawn, for example s = 20..120 step 10, or delete it.",
    ),
    "why_many": (
        "row",
        "there are {size} explanations of wrong answers, but {limit} wrong answers",
        "Write one for each, in the same order, with | between them; a place may be empty.",
    ),
    "cell_became_date": (
        "row",
        "the spreadsheet has turned this cell into the date {found}",
        "Format the cell as text and type it again, for example 3/4.",
    ),
    "tolerance_unread": ("row", '"{found}" is not a tolerance', "Write 0.1 (absolute) or 5 % (relative)."),
    "tolerance_idle": (
        "note",
        'the tolerance "{found}" is not used: this is not a number question',
        "Delete it, or write the answer as a number.",
    ),
    "unit_idle": (
        "note",
        'the unit "{found}" is not used: this is not a number question',
        "Delete it, or write the answer as a number.",
    ),
    "unit_twice": (
        "row",
        'the answer "{found}" has another unit than the unit column, "{other}"',
        "Keep one of the two.",
    ),
    "cell_became_time": (
        "question",
        '"{found}" is a time of day here; a spreadsheet makes one of the ratio {first}',
        "Say which is meant, or format the cell as text and type it again.",
    ),
    "total_two_ways": (
        "question",
        '"{found}" can be the sum of the scores, or out of how many they are',
        "Say which.",
    ),
    "column_total": (
        "note",
        "this column adds the scores up, so it was not read",
        "Nothing needs to be done.",
    ),
    # --- class lists
    "people_unclear": (
        "question",
        "{name} is a list of all users of a system and does not say who is a student",
        "Send a list with the students of the class only, or say that all of them are.",
    ),
    "people_left": (
        "note",
        'people with "{found}" were left out: {size}',
        "Nothing needs to be done if they are not students of this class.",
    ),
    "role_unknown": (
        "row",
        '"{found}" is a role that I do not know',
        "Write student, or delete the row.",
    ),
    "name_two_ways": (
        "row",
        'the name "{found}" and the names "{first}" in the other columns differ',
        "Make them agree, or keep one of them.",
    ),
    "name_half": (
        "row",
        'only "{found}" is written, and the other part of the name is missing',
        "Write it, or delete the row.",
    ),
    "name_order": (
        "row",
        'it is not clear which part of "{found}" is the first name',
        "Write the family name, a comma, and the first name.",
    ),
    "name_unlikely": (
        "row",
        '"{found}" does not look like a name',
        "Correct it, or delete the row.",
    ),
    "row_total": (
        "row",
        '"{found}" looks like a total, so the row was left out',
        "Delete the row if it is one.",
    ),
    "list_no_names": (
        "file",
        '{name} is no class list: "{found}" is no name',
        "Send a list with one name in each row.",
    ),
    # --- scores
    "score_unread": ("row", '"{found}" is not a score', "Write a number, for example 17, 17.5 or 17/20."),
    "score_range": ("row", '"{found}" is not between 0 and {limit}', "Correct the score or the maximum."),
    "score_maximum": (
        "row",
        'it is not said out of how many points "{found}" is',
        'Add a column "out of", or write 17/20.',
    ),
    # --- calendars
    "event_zone": (
        "row",
        'the time zone "{found}" is not known',
        "Choose a zone by its city in your calendar program, for example Europe/Berlin.",
    ),
    "event_rule": (
        "row",
        'the rule "{found}" repeats more often than a timetable can',
        "Let the event repeat daily, weekly, monthly or yearly.",
    ),
    "event_broken": (
        "row",
        "this event cannot be read ({found})",
        "Open it in your calendar program and save it again.",
    ),
    "event_untitled": (
        "row",
        "this event has no title",
        "Write the topic into its title, or delete the event.",
    ),
    "event_old": (
        "row",
        "this event has been repeating since {found}",
        "Enter it again with a start in this school year.",
    ),
    "event_span": (
        "row",
        '"{found}" fills {size} days and does not say what it is',
        "Begin its title with “Holiday:” if it is one, or enter the lessons one by one.",
    ),
    "events_outside": (
        "note",
        "{size} events lie more than {limit} days from today and were left out",
        "Nothing needs to be done if you meant this school year.",
    ),
    "events_many": (
        "file",
        "{name} holds more than {limit} events",
        "Export one class and one school year only.",
    ),
    "rows_none_calendar": (
        "file",
        "{name} is a calendar without any event",
        "Export the class's own calendar and send that.",
    ),
    "events_same_title": (
        "note",
        '{size} lessons are all called "{found}", so they count as one topic',
        "If each lesson has its own topic, write it into the title of each event.",
    ),
    # --- notes for any sheet
    "columns_unread": (
        "note",
        "not read and not kept: {found}{hint}",
        "Nothing needs to be done if you meant that.",
    ),
    "sheets_more": (
        "note",
        'only the sheet "{found}" was read; the file has {size} more',
        "Send the others as files of their own.",
    ),
    "sheets_hidden": (
        "note",
        "{name} has hidden sheets, which were left out: {size}",
        "Show them in your spreadsheet program and send the file again if they are meant.",
    ),
    "heading_assumed": (
        "note",
        '"{found}" in the first row was read as a name, not as a heading',
        'If it is a heading, write "name" there.',
    ),
    "lesson_in_holiday": (
        "note",
        'lessons inside the holiday "{other}": {size}, the first is "{found}"',
        "Move or delete them if they do not take place.",
    ),
    "quiz_in_holiday": (
        "note",
        'quizzes inside the holiday "{other}": {size}, the first is "{found}"',
        "Move or delete them if they do not take place.",
    ),
    "lesson_off_weekday": (
        "note",
        'lessons on weekdays without school: {size}, the first is "{found}" on a {weekday}',
        "Check the date; it is taken as it stands.",
    ),
    "quiz_off_weekday": (
        "note",
        'quizzes on weekdays without school: {size}, the first is "{found}" on a {weekday}',
        "Check the date; it is taken as it stands.",
    ),
    "dates_mixed": (
        "note",
        'this column mixes real dates and texts such as "{found}"; a spreadsheet set to another country may have '
        "exchanged day and month in the real ones",
        "Compare two or three real dates with your plan.",
    ),
}
