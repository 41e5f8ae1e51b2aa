"""Text tables against RFC 4180 (reading) and the OWASP page on formula injection (writing)."""

from __future__ import annotations

import csv
import io

import pytest

from storage.files.csv_out import safe_cell, write_csv
from storage.files.reading.delimited import read_delimited

# Y. Shafranovich, RFC 4180 "Common Format and MIME Type for CSV Files", October 2005, section 2, examples 1, 2, 5-7.
RFC_4180 = [
    ("aaa,bbb,ccc\r\nzzz,yyy,xxx\r\n", [["aaa", "bbb", "ccc"], ["zzz", "yyy", "xxx"]]),
    ("aaa,bbb,ccc\r\nzzz,yyy,xxx", [["aaa", "bbb", "ccc"], ["zzz", "yyy", "xxx"]]),
    ('"aaa","bbb","ccc"\r\nzzz,yyy,xxx', [["aaa", "bbb", "ccc"], ["zzz", "yyy", "xxx"]]),
    ('"aaa","b\r\nbb","ccc"\r\nzzz,yyy,xxx', [["aaa", "b\r\nbb", "ccc"], ["zzz", "yyy", "xxx"]]),
    ('"aaa","b""bb","ccc"', [["aaa", 'b"bb', "ccc"]]),
]

# OWASP Foundation, community page "CSV Injection" (site repository, August 2025): first characters to guard.
OWASP_FIRST = ["=", "+", "-", "@", "\t", "\r", "\n"]
# The two examples printed there: the raw value and the field as it should stand in the file.
OWASP_PRINTED = [
    ('=1+2";=1+2', '"\'=1+2"";=1+2"'),
    ("=1+2'\" ;,=1+2", '"\'=1+2\'"" ;,=1+2"'),
]


@pytest.mark.parametrize(("text", "rows"), RFC_4180)
def test_reader_gives_the_rows_of_rfc_4180(text: str, rows: list[list[str]]) -> None:
    sheet = read_delimited(text.encode(), "rfc.csv")
    assert [list(row) for row in sheet.rows] == rows


@pytest.mark.parametrize("first", OWASP_FIRST)
def test_writer_guards_each_first_character_that_owasp_names(first: str) -> None:
    assert safe_cell(f"{first}1+2") == f"'{first}1+2"


@pytest.mark.parametrize(("raw", "printed"), OWASP_PRINTED)
def test_writer_escapes_as_printed_on_the_owasp_page(raw: str, printed: str) -> None:
    assert write_csv([[raw]]).decode("utf-8-sig") == f"{printed}\r\n"


@pytest.mark.parametrize("hidden", ["  =1+2", "a\n=1+2", "a\r\n  @SUM(A1)", "\u00a0=1", "\x0b=1"])
def test_writer_guards_formulas_behind_blanks_and_line_breaks(hidden: str) -> None:
    assert safe_cell(hidden) == f"'{hidden}"


@pytest.mark.parametrize("harmless", ["Hooke's law", "a-b", "2+2", "", "x = 1", "p. 12"])
def test_writer_leaves_harmless_texts_alone(harmless: str) -> None:
    assert safe_cell(harmless) == harmless


@pytest.mark.parametrize("number", [-3, -3.5, 0, True, None])
def test_writer_leaves_numbers_as_numbers(number: float | None) -> None:
    # A leading minus is also a legitimate number: only texts can be formulas, so numbers are written bare.
    assert safe_cell(number) == number


@pytest.mark.parametrize(("_text", "rows"), RFC_4180)
def test_writer_round_trips_the_rows_of_rfc_4180(_text: str, rows: list[list[str]]) -> None:
    written = write_csv(rows)
    assert list(csv.reader(io.StringIO(written.decode("utf-8-sig"), newline=""))) == rows
    assert [list(row) for row in read_delimited(written, "back.csv").rows] == rows
