"""Of a document only its table is read; what stands beside it is never dropped without a word."""

import pytest

from storage.files.reading.found_tables import FoundTable, one_sheet

TABLE = FoundTable([["date", "topic"], ["2026-12-01", "Forces"]])


@pytest.mark.parametrize(
    ("lines", "said"), [([], []), (["Plan", ""], []), (["one", "two", "three"], ["text_beside"])]
)
def test_much_text_beside_the_table_is_said(lines, said):
    assert [one.code for one in one_sheet("docx", [TABLE], lines, "plan.docx").notes] == said


def test_another_table_is_said():
    other = FoundTable([["name", "role"]])
    assert [one.code for one in one_sheet("pdf", [TABLE, other], [], "plan.pdf").notes] == ["tables_more"]
