"""Everything that can be wrong with an uploaded file, by code, and how much of the file each loses.

The words are texts of `bot.words`: ``file.CODE`` says what is wrong, ``file.CODE.todo`` what to do.

Levels
------
``file``      nothing of the file can be used;
``row``       this row is left out, the others can be used;
``question``  the row can be read in two ways; the teacher picks one and the file is read again;
``note``      nothing is lost, but the teacher should know how it was read.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal

Level = Literal["file", "row", "question", "note"]

LEVELS: Mapping[str, Level] = {
    # --- the whole file
    "file_empty": "file",
    "file_large": "file",
    "file_unpacked_large": "file",
    "file_members": "file",
    "file_costly": "file",
    "file_broken": "file",
    "file_reader_lost": "file",
    "file_kind": "file",
    "file_macros": "file",
    "file_locked": "file",
    "file_picture": "file",
    "plan_weekly": "file",
    "topics_unnamed": "file",
    "file_sound": "file",
    "pages_many": "file",
    "file_entities": "file",
    "file_encoding": "file",
    "encoding_unclear": "question",
    "file_nul": "file",
    "file_calendar": "file",
    "hidden_rows": "question",
    "hidden_columns": "question",
    "hidden_both": "question",
    "quote_open": "file",
    "rows_many": "file",
    "columns_many": "file",
    "text_much": "file",
    "rows_none": "file",
    "headings_none": "file",
    "heading_missing": "file",
    "heading_twice": "file",
    # --- one cell or row
    "cell_long": "row",
    "cell_control": "row",
    "cell_error": "row",
    "cell_formula": "row",
    "cell_missing": "row",
    "cells_extra": "row",
    "title_two_ways": "question",
    "kind_unknown": "row",
    "date_unreal": "row",
    "date_week": "row",
    "date_unread": "row",
    "date_number": "row",
    "date_far": "row",
    "date_weekday": "row",
    "date_order": "row",
    "holiday_long": "row",
    "date_two_ways": "question",
    "weeks_only": "question",
    "topic_for_all": "question",
    "lesson_span": "row",
    "time_unread": "row",
    "time_order": "row",
    "row_twice": "row",
    "topic_unknown": "row",
    # --- questions
    "question_kind": "row",
    "question_topic": "row",
    "options_none": "row",
    "options_many": "row",
    "options_same": "row",
    "options_one": "note",
    "key_two_ways": "question",
    "key_unknown": "row",
    "key_several": "row",
    "key_beside": "row",
    "key_inside": "row",
    "key_letter": "row",
    "answer_number": "row",
    "number_two_ways": "row",
    "cell_became_date": "row",
    "tolerance_unread": "row",
    "tolerance_idle": "note",
    "drawn_idle": "note",
    "why_many": "row",
    "unit_idle": "note",
    "unit_twice": "row",
    "cell_became_time": "question",
    "total_two_ways": "question",
    "column_total": "note",
    # --- class lists
    "people_unclear": "question",
    "people_left": "note",
    "role_unknown": "row",
    "name_two_ways": "row",
    "name_half": "row",
    "name_order": "row",
    "name_unlikely": "row",
    "row_total": "row",
    "list_no_names": "file",
    # --- scores
    "score_unread": "row",
    "score_range": "row",
    "score_maximum": "row",
    # --- calendars
    "event_zone": "row",
    "event_rule": "row",
    "event_broken": "row",
    "event_untitled": "row",
    "event_old": "row",
    "event_span": "row",
    "events_outside": "note",
    "events_many": "file",
    "rows_none_calendar": "file",
    "events_same_title": "note",
    # --- notes for any sheet
    "columns_unread": "note",
    "sheets_more": "note",
    "tables_more": "note",
    "line_unread": "row",
    "table_turned": "note",
    "table_grid": "note",
    "year_added": "note",
    "sheets_hidden": "note",
    "heading_assumed": "note",
    "lesson_in_holiday": "note",
    "quiz_in_holiday": "note",
    "lesson_off_weekday": "note",
    "quiz_off_weekday": "note",
    "dates_mixed": "note",
}
