"""English: what is wrong with an uploaded file. Most of it stands with the readers, for the command line too."""

from __future__ import annotations

from collections.abc import Mapping

from bot.grading.upload import SENTENCES
from storage.files.words import WORDS

TEXTS: Mapping[str, str | Mapping[str, str]] = {
    **{f"file.{code}": what for code, (_level, what, _todo) in WORDS.items()},
    **{f"file.{code}.todo": todo for code, (_level, _what, todo) in WORDS.items()},
    **{f"key.{code}": sentence for code, sentence in SENTENCES.items()},
    # where
    "file.place.row": "row {row}",
    "file.place.event": "event {row}",
    "file.place.column": 'column "{heading}" ({column})',
    "file.place.bare": "column {column}",
    "file.place.sheet": 'Row {row}, column "{heading}"',
    "file.picture": (
        'Row {row}: the picture "{picture}" cannot come in a sheet. Send it to me as a photo with the question as '
        "its caption."
    ),
    # what a button says where something is doubtful
    "file.option.hidden.leave": "Leave the hidden out",
    "file.option.hidden.read": "Read the hidden too",
    "file.option.keys.place": "They name the option",
    "file.option.keys.text": "They are the answer",
    "file.option.people.students": "All are students of the class",
    "file.option.tests.quiz": "A quiz",
    "file.option.tests.lesson": "A lesson",
    "file.option.times.ratio": "A ratio",
    "file.option.times.time": "A time of day",
    "file.option.total.sum": "The sum",
    "file.option.total.maximum": "Out of how many",
    # what the sentences are filled in with
    "file.the_file": "The file",
    "file.day": "day",
    "file.month": "month",
    "file.year": "year",
    "file.hint.meant": ' (did you mean "{word}"?)',
    "file.hint.meant_with": ' (did you mean "{word}" with "{heading}"?)',
    "file.hint.close": " ({word} comes close)",
    "file.hint.day_number": " (as a spreadsheet's day number it would be {day})",
    "file.rows_more": {
        "one": "; so can the days in {n} more row",
        "other": "; so can the days in {n} more rows",
    },
    "file.same_rows": {
        "one": "; the same goes for {n} more row",
        "other": "; the same goes for {n} more rows",
    },
    "file.kind.workbook": "a workbook",
    "file.kind.calendar": "a calendar",
    "file.kind.xls": "an old binary document (.xls)",
    "file.kind.xlsb": "a binary workbook (.xlsb)",
    "file.kind.docx": "a text document (.docx)",
    "file.kind.pptx": "a presentation (.pptx)",
    "file.kind.zip": "an archive (.zip)",
    "file.kind.own": "a document in a format of its own (Numbers or Pages)",
    "file.kind.opendocument": "an OpenDocument file, but not a spreadsheet",
    "file.kind.web": "a web page or XML file, whatever its name says",
    "file.other.answer": "the answer",
    "file.wanted.questions": "questions",
    "file.wanted.list": "a class list",
    "file.wanted.scores": "scores",
    "file.wanted.question": "the question",
    "file.wanted.answer": "the answer",
    "file.wanted.the_topic": "the topic",
    "file.wanted.student": "the student's name",
    "file.wanted.name": "a name",
    "file.wanted.topic": "a topic",
    "file.wanted.date": "a date",
    "file.wanted.first_day": "the first day",
    "file.wanted.quiz": "the name of the quiz",
}
