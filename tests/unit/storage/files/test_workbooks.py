"""Workbooks and OpenDocument sheets as typed values; formulas, links and hostile content do no harm."""

from __future__ import annotations

from datetime import date, datetime, time, timedelta

import openpyxl
import pytest

from storage.files.reading.opendocument import read_opendocument
from storage.files.reading.sheet import Fault, FileRefused
from storage.files.reading.workbook import read_workbook
from tests.samples.workbooks import ods, ods_of, ods_row, part, repacked, saved, xlsx
from tests.wording import sentence as english

DAY = date(2026, 12, 1)
MOMENT = datetime(2026, 12, 1, 8, 30)  # noqa: DTZ001 - a spreadsheet has no zones


def test_workbook_cells_keep_their_types() -> None:
    data = xlsx([["topic", "n"], ["Forces", DAY, MOMENT, time(8, 30), 3, 2.5, True, None, "x"]])
    sheet = read_workbook(data, "p.xlsx")
    assert sheet.rows[1] == (
        "Forces",
        DAY,
        MOMENT,
        time(8, 30),
        3,
        2.5,
        True,
        None,
        "x",
    )


def test_workbook_percent_cells_stay_percentages() -> None:
    data = xlsx([["tolerance"], [0.05], [0.125]], {"A2": "0%", "A3": "0.0 %"})
    assert read_workbook(data, "p.xlsx").rows[1:] == (("5 %",), ("12.5 %",))


def test_workbook_durations_under_a_day_are_times() -> None:
    data = xlsx([["start"], [timedelta(hours=8, minutes=30)]], {"A2": "[h]:mm"})
    assert read_workbook(data, "p.xlsx").rows[1] == (time(8, 30),)


def test_workbook_formula_without_saved_result_is_a_fault_of_its_cell() -> None:
    sheet = read_workbook(xlsx([["topic", "date"], ["A", "=TODAY()"], [None, "=1+1"]]), "p.xlsx")
    assert sheet.rows[1:] == (("A", Fault("cell_formula", "=TODAY()")), (None, Fault("cell_formula", "=1+1")))


def test_workbook_formula_with_saved_result_counts_with_it() -> None:
    book = xlsx([["topic", "n"], ["A", "=1+1"]])
    sheet = (
        part(book, "xl/worksheets/sheet1.xml").replace(b"<v />", b"<v>2</v>").replace(b"<v></v>", b"<v>2</v>")
    )
    assert b"<v>2</v>" in sheet
    assert read_workbook(repacked(book, {"xl/worksheets/sheet1.xml": sheet}), "p.xlsx").rows[1] == ("A", 2)


def test_workbook_error_values_are_faults() -> None:
    sheet = read_workbook(xlsx([["topic"], ["#REF!"]]), "p.xlsx")
    assert sheet.rows[1] == (Fault("cell_error", "#REF!"),)


def test_workbook_first_visible_sheet_with_content_is_read_and_the_others_are_named() -> None:
    book = openpyxl.Workbook()
    book.active.title = "Secret"
    book["Secret"].append(["hidden"])
    book["Secret"].sheet_state = "hidden"
    book.create_sheet("Empty")
    book.create_sheet("Plan").append(["topic"])
    book.create_sheet("Old").append(["topic"])
    sheet = read_workbook(saved(book), "p.xlsx")
    assert sheet.rows == (("topic",),)
    assert [english(note) for note in sheet.notes] == [
        'Only the sheet "Plan" was read; the file has 1 more. Send the others as files of their own.',
        "p.xlsx has hidden sheets, which were left out: 1. Show them in your spreadsheet program and send the file "
        "again if they are meant.",
    ]


def test_workbook_blank_rows_keep_their_numbers() -> None:
    book = openpyxl.Workbook()
    book.active["B4"] = "topic"
    assert read_workbook(saved(book), "p.xlsx").rows == ((), (), (), (None, "topic"))


def test_workbook_without_content_is_empty() -> None:
    with pytest.raises(FileRefused) as refused:
        read_workbook(saved(openpyxl.Workbook()), "p.xlsx")
    assert refused.value.problem.code == "file_empty"


@pytest.mark.parametrize(
    ("cell", "code"), [("A2002", "rows_many"), ("AO1", "columns_many"), ("XFD1", "columns_many")]
)
def test_workbook_beyond_the_limits_is_refused(cell: str, code: str) -> None:
    book = openpyxl.Workbook()
    book.active["A1"] = "topic"
    book.active[cell] = "far"
    with pytest.raises(FileRefused) as refused:
        read_workbook(saved(book), "p.xlsx")
    assert refused.value.problem.code == code


@pytest.mark.parametrize("encoding", ["utf-8", "utf-16"])
def test_workbook_with_entity_declarations_is_refused(encoding: str) -> None:
    bomb = (
        f'<?xml version="1.0" encoding="{encoding}"?><!DOCTYPE x [<!ENTITY a "ha">'
        + "".join(f'<!ENTITY a{n} "{f"&a{n - 1};" * 10 if n else "&a;" * 10}">' for n in range(12))
        + "]><sst>&a11;</sst>"
    )
    book = repacked(xlsx([["topic"]]), {"xl/sharedStrings.xml": bomb.encode(encoding)})
    with pytest.raises(FileRefused) as refused:
        read_workbook(book, "p.xlsx")
    assert refused.value.problem.code == "file_entities"


def test_opendocument_cells_keep_their_types() -> None:
    percent = '<table:table-cell office:value-type="percentage" office:value="0.05"><text:p>5 %</text:p>'
    percent += "</table:table-cell>"
    moment = '<table:table-cell office:value-type="date" office:date-value="2026-12-01T08:30:00"/>'
    data = ods([["topic", "n"], ["Forces", DAY, moment, time(8, 30), 3, 2.5, True, None, percent]])
    assert read_opendocument(data, "p.ods").rows[1] == (
        *("Forces", DAY, MOMENT, time(8, 30)),
        *(3, 2.5, True, None, "5 %"),
    )


def test_opendocument_texts_with_spans_blanks_and_comments() -> None:
    cell = (
        '<table:table-cell office:value-type="string">'
        "<office:annotation><text:p>a comment</text:p></office:annotation>"
        '<text:p>Hooke<text:span>’s</text:span><text:s text:c="2"/>law</text:p>'
        "<text:p>again</text:p></table:table-cell>"
    )
    assert read_opendocument(ods([["topic"], [cell]]), "p.ods").rows[1] == ("Hooke’s  law\nagain",)


def test_opendocument_formulas_and_errors_are_faults() -> None:
    unsaved = '<table:table-cell table:formula="of:=1+1"/>'
    broken = '<table:table-cell table:formula="of:=x" office:value-type="string" calcext:value-type="error">'
    broken += "<text:p>#REF!</text:p></table:table-cell>"
    kept = '<table:table-cell table:formula="of:=1+1" office:value-type="float" office:value="2"/>'
    assert read_opendocument(ods([[unsaved, broken, kept]]), "p.ods").rows[0] == (
        Fault("cell_formula", "of:=1+1"),
        Fault("cell_error", "#REF!"),
        2,
    )


def test_opendocument_padding_to_a_million_rows_costs_nothing() -> None:
    padding = (
        '<table:table-row table:number-rows-repeated="1048574"><table:table-cell '
        'table:number-columns-repeated="16384"/></table:table-row>'
    )
    assert read_opendocument(ods([["topic"], ["A"]], more=padding), "p.ods").rows == (("topic",), ("A",))


@pytest.mark.parametrize(
    ("more", "code"),
    [
        (ods_row(["A"], ' table:number-rows-repeated="1048570"'), "rows_many"),
        ('<table:table-row table:number-rows-repeated="1048570"/>' + ods_row(["far"]), "rows_many"),
        (ods_row(['<table:table-cell table:number-columns-repeated="16000"/>', "far"]), "columns_many"),
        (
            ods_row(
                [
                    '<table:table-cell table:number-columns-repeated="16000"><text:p>x</text:p></table:table-cell>'
                ]
            ),
            "columns_many",
        ),
    ],
)
def test_opendocument_beyond_the_limits_is_refused(more: str, code: str) -> None:
    with pytest.raises(FileRefused) as refused:
        read_opendocument(ods([["topic"]], more=more), "p.ods")
    assert refused.value.problem.code == code


def test_opendocument_repeated_cells_and_rows_are_filled_in() -> None:
    twice = '<table:table-cell table:number-columns-repeated="2"><text:p>x</text:p></table:table-cell>'
    data = ods([["topic"]], more=ods_row([None, twice], ' table:number-rows-repeated="2"'))
    assert read_opendocument(data, "p.ods").rows == (("topic",), (None, "x", "x"), (None, "x", "x"))


def test_opendocument_hidden_tables_are_passed_over() -> None:
    style = '<style:style style:name="h"><style:table-properties table:display="false"/></style:style>'
    before = f'<table:table table:name="Secret" table:style-name="h">{ods_row(["hidden"])}</table:table>'
    assert read_opendocument(ods([["topic"]], before=before, styles=style), "p.ods").rows == (("topic",),)


def test_opendocument_further_tables_are_named() -> None:
    before = f'<table:table table:name="First">{ods_row(["topic"])}</table:table>'
    (note,) = read_opendocument(ods([["other"]], before=before), "p.ods").notes
    assert english(note).startswith('Only the sheet "First" was read; the file has 1 more.')


def test_opendocument_with_entity_declarations_is_refused() -> None:
    with pytest.raises(FileRefused) as refused:
        read_opendocument(
            ods_of(b'<!DOCTYPE x [<!ENTITY a SYSTEM "file:///etc/hostname">]><x>&a;</x>'), "p.ods"
        )
    assert refused.value.problem.code == "file_entities"
