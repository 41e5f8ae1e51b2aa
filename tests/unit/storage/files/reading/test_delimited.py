"""Text tables in the dialects and encodings that teachers really have."""

from __future__ import annotations

import codecs

import pytest

from storage.files.reading import limits
from storage.files.reading.delimited import best_separator, read_delimited
from storage.files.reading.encodings import decode
from storage.files.reading.sheet import Fault, FileRefused
from tests.wording import sentence as english

TEXT = "Thema;Datum\r\nGröße der Kräfte;01.12.2026\r\n"


@pytest.mark.parametrize(
    "data",
    [
        TEXT.encode("utf-8"),
        TEXT.encode("utf-8-sig"),
        TEXT.encode("cp1252"),
        TEXT.encode("utf-16"),
        TEXT.encode("utf-16-le"),
        TEXT.encode("utf-16-be"),
        codecs.BOM_UTF16_BE + TEXT.encode("utf-16-be"),
        TEXT.encode("utf-32"),
    ],
    ids=[
        "utf-8",
        "utf-8 mark",
        "windows-1252",
        "utf-16 mark",
        "utf-16-le",
        "utf-16-be",
        "utf-16-be mark",
        "utf-32",
    ],
)
def test_reader_understands_every_usual_encoding(data: bytes) -> None:
    assert read_delimited(data, "t.csv").rows == (("Thema", "Datum"), ("Größe der Kräfte", "01.12.2026"))


@pytest.mark.parametrize("separator", [";", ",", "\t", "|"])
def test_reader_finds_the_separator(separator: str) -> None:
    text = "\n".join(separator.join(row) for row in (["a", "b", "c"], ["1", "2", "3"], ["4", "5", ""]))
    assert read_delimited(text.encode(), "t.csv").rows[1] == ("1", "2", "3")


def test_separator_is_not_taken_from_commas_in_texts() -> None:
    text = "topic;value\nSprings, levers, gears;1,5\nPressure, depth;2,5\nDensity;3,5\n"
    assert best_separator(text) == ";"


def test_separator_is_not_taken_from_bars_between_wrong_options() -> None:
    text = "topic;answer;wrong\n" + "Forces;N;J|W\n" * 20 + "Forces;N;J;too many\n" * 3
    assert best_separator(text) == ";"


def test_one_column_needs_no_separator() -> None:
    assert read_delimited(b"name\nMira\nTom\n", "t.csv").rows == (("name",), ("Mira",), ("Tom",))


@pytest.mark.parametrize("line", ["sep=;\r\n", '"sep=;"\r\n', "SEP=;\n", "sep=;\r"])
def test_separator_line_is_obeyed_and_is_no_row(line: str) -> None:
    assert read_delimited(f"{line}a,b;c\n1,2;3".encode(), "t.csv").rows == (("a,b", "c"), ("1,2", "3"))


def test_blank_lines_keep_their_row_numbers() -> None:
    assert read_delimited(b"a,b\n\n,\n1,2\n", "t.csv").rows == (("a", "b"), (), (), ("1", "2"))


def test_line_breaks_in_a_cell_do_not_count_as_rows() -> None:
    assert read_delimited(b'a,b\n"1\n2\n3",x\n4,5\n', "t.csv").rows[2] == ("4", "5")


def test_old_mac_line_ends_are_read() -> None:
    assert read_delimited(b"a,b\r1,2\r", "t.csv").rows == (("a", "b"), ("1", "2"))


def test_zero_bytes_are_refused_with_their_place() -> None:
    with pytest.raises(FileRefused) as refused:
        read_delimited(b"topic,date\nA\0,2026-12-01\n", "t.csv")
    assert english(refused.value.problem) == (
        "t.csv is not a text file: it has a zero byte at position 12. "
        "Save it as .xlsx, .ods or “CSV UTF-8” and send that."
    )


def test_bytes_without_meaning_are_refused_with_their_place() -> None:
    with pytest.raises(FileRefused) as refused:
        decode(b"\xff\xfet\0\0\xd8a\0", "t.csv")  # UTF-16 by its mark, with half a surrogate pair
    assert refused.value.problem.code == "file_encoding"
    assert "byte 4 " in english(refused.value.problem)


def test_open_quotation_mark_is_named_by_its_row() -> None:
    with pytest.raises(FileRefused) as refused:
        read_delimited(b'a,b\n1,2\n"3,4\n5,6\n', "t.csv")
    assert english(refused.value.problem).startswith("Row 3: a quotation mark opens here and never closes")


def test_open_quotation_mark_over_many_rows_is_found_too() -> None:
    with pytest.raises(FileRefused) as refused:
        read_delimited(b'a,b\n"3,4\n' + b"5,6\n" * 60_000, "t.csv")
    assert refused.value.problem.code == "quote_open"


def test_quotation_marks_inside_a_text_are_harmless() -> None:
    assert read_delimited(b'a,b\nthe "big" one,2\n', "t.csv").rows[1] == ('the "big" one', "2")


def test_long_cells_and_control_characters_are_faults_of_their_cell() -> None:
    row = read_delimited(b"a,b\n" + b"x" * 501 + b",y\x07z\n", "t.csv").rows[1]
    assert row == (Fault("cell_long", "x" * 60, 501), Fault("cell_control", "y z"))


def test_invisible_direction_marks_are_taken_out() -> None:
    assert read_delimited("a\n\u202eevil\u202c\u200b\n".encode(), "t.csv").rows[1] == ("evil",)


@pytest.mark.parametrize(
    ("data", "code"),
    [
        (b"a,b\n" + b"1,2\n" * (limits.ROWS + 1), "rows_many"),
        (b"a," * 41 + b"b\n", "columns_many"),
    ],
)
def test_too_many_rows_or_columns_are_refused(data: bytes, code: str) -> None:
    with pytest.raises(FileRefused) as refused:
        read_delimited(data, "t.csv")
    assert refused.value.problem.code == code


def test_the_last_allowed_row_is_read() -> None:
    assert len(read_delimited(b"a,b\n" + b"1,2\n" * limits.ROWS, "t.csv").rows) == limits.ROWS + 1


def test_empty_lines_at_the_end_cost_nothing() -> None:
    assert read_delimited(b"a,b\n1,2\n" + b",\n" * 9000, "t.csv").rows == (("a", "b"), ("1", "2"))
