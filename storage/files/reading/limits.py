"""How large, wide, long and far an uploaded file may be.

A timetable of one class and one school year, or a sheet of several hundred questions, stays far below each of these;
what lies above is a slip or an attack and is refused with a clear sentence. The figures are our own decision. For
comparison: an honest workbook that fills all 2000 rows and 40 columns has 0.2 MB, unpacks to 4 MB (.xlsx) or 6.5 MB
(.ods) and takes 1.5 to 3 s of processor time; an ordinary one of 200 rows has 9 kB and takes a quarter of a second.
"""

from __future__ import annotations

MIB = 1024 * 1024

FILE_BYTES = 5 * MIB
"""Size of the upload itself. [bytes]"""

UNPACKED_BYTES = 20 * MIB
"""Sum of the sizes that the parts of an archive declare. [bytes]"""

ARCHIVE_MEMBERS = 200
"""Parts in an archive; a plain workbook has about 12."""

PAGES = 60
"""Pages of a PDF; each takes up to a second of processor time."""

ROWS = 2000
"""Last row that may hold something, counted as the spreadsheet does, plus the heading row."""

COLUMNS = 40
"""Last column that may hold something (AN)."""

CELL_CHARACTERS = 500
"""Longest text in one cell; a question and its explanation fit a phone screen."""

TEXT_CHARACTERS = 5_000_000
"""All text of a file together, so that the answer of the reading child stays small."""

CHILD_MEMORY_BYTES = 600 * MIB
"""Address space of the reading child."""

CHILD_CPU_S = 10
"""Processor time of the reading child, three times what the largest honest workbook takes. [s]"""

CHILD_WALL_S = 30.0
"""Real time after which the parent stops the child, should the machine be busy. [s]"""

WINDOW_DAYS = 400
"""Days before and after today that a school year can reach: sent in June, it may end in July a year on."""

HOLIDAY_DAYS = 100
"""Longest holiday; summer holidays of 13 weeks exist."""

EVENTS = 2000
"""Events in a calendar, and occurrences after expanding repetitions."""

WRONG_OPTIONS = 7
"""Wrong options of a choice question: with the answer, letters A to H."""

NAME_CHARACTERS = 60
"""Longest name of a student."""
