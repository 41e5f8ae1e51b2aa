"""Make the workbooks of this folder again: python -m tests.samples.sheets.make (needs LibreOffice's soffice).

None is written by a library that the project reads with: the workbooks come from XlsxWriter and from LibreOffice
Calc, the OpenDocument sheets from LibreOffice Calc, which reads the other ones and saves them anew.
"""

from __future__ import annotations

import shutil
import subprocess
import tempfile
from pathlib import Path
from typing import Any

import xlsxwriter

FOLDER = Path(__file__).parent


def formulas(path: Path) -> None:
    """Write raised digits as XlsxWriter does: formatted runs of shared strings."""
    book = xlsxwriter.Workbook(path)
    sheet = book.add_worksheet()
    up, down = book.add_format({"font_script": 1}), book.add_format({"font_script": 2})
    sheet.write_row(0, 0, ["topic", "question", "answer"])
    sheet.write_row(1, 0, ["Light", "Speed of light in m/s?"])
    sheet.write_rich_string(1, 2, "3·10", up, "8", " m/s")
    sheet.write_row(2, 0, ["Energy", "Kinetic energy?"])
    sheet.write_rich_string(2, 2, "½mv", up, "2")
    sheet.write_row(3, 0, ["Water", "", "water"])
    sheet.write_rich_string(3, 1, "What is H", down, "2", "O?")
    sheet.write_row(4, 0, ["Charge", "Charge of an electron in C?"])
    sheet.write_rich_string(4, 2, "1.6·10", up, "−19")
    book.close()


QUESTIONS = [
    ["topic", "question", "answer"],
    ["Forces", "Unit of force?", "newton"],
    ["Forces", "Old: unit of weight?", "kilopond"],
    ["Energy", "Unit of energy?", "joule"],
]


def hidden_row(path: Path) -> None:
    """Write a sheet whose third row is hidden by hand."""
    book, sheet = _book(path, QUESTIONS)
    sheet.set_row(2, None, None, {"hidden": True})
    book.close()


def filtered(path: Path) -> None:
    """Write a sheet with a filter on the topic that leaves one row visible."""
    book, sheet = _book(path, QUESTIONS)
    sheet.autofilter(0, 0, 3, 2)
    sheet.filter_column(0, "x == Energy")
    for row in (1, 2):
        sheet.set_row(row, None, None, {"hidden": True})
    book.close()


def hidden_column(path: Path) -> None:
    """Write a sheet whose answers are hidden, as for showing it to the class."""
    book, sheet = _book(path, QUESTIONS)
    sheet.set_column(2, 2, None, None, {"hidden": True})
    book.close()


def hidden_sheet(path: Path) -> None:
    """Write a workbook with a hidden second sheet."""
    book, _sheet = _book(path, [QUESTIONS[0], QUESTIONS[1]])
    more = book.add_worksheet("Old")
    more.write_row(0, 0, QUESTIONS[2])
    more.hide()
    book.close()


def ratios(path: Path) -> None:
    """Write what a spreadsheet makes of 2:1 typed into a cell: a time of day."""
    book, sheet = _book(path, [["topic", "question", "answer"], ["Gears", "Ratio of 40 to 20 teeth?", None],
                               ["Gears", "Half as a fraction?", "½"]])  # fmt: skip
    sheet.write_number(1, 2, (2 * 60 + 1) / 1440, book.add_format({"num_format": "hh:mm"}))
    book.close()


def _book(path: Path, rows: list[list[Any]]) -> tuple[Any, Any]:
    book = xlsxwriter.Workbook(path)
    sheet = book.add_worksheet()
    for number, row in enumerate(rows):
        sheet.write_row(number, 0, row)
    return book, sheet


def _calc(source: Path, kind: str, target: Path) -> None:
    """Let LibreOffice Calc read a file and save it as another kind."""
    program = shutil.which("soffice")
    if program is None:
        raise SystemExit("LibreOffice is needed: install libreoffice-calc")
    with tempfile.TemporaryDirectory() as folder:
        profile = f"-env:UserInstallation=file://{folder}/profile"
        subprocess.run(
            [program, profile, "--headless", "--convert-to", kind, "--outdir", folder, str(source)],
            check=True,
            capture_output=True,
        )
        shutil.copy(Path(folder) / f"{source.stem}.{kind.split(':')[0]}", target)


def main() -> None:
    """Write every file of this folder."""
    for make in (formulas, hidden_row, filtered, hidden_column, hidden_sheet, ratios):
        book = FOLDER / f"{make.__name__}.xlsx"
        make(book)
        _calc(book, "ods", book.with_suffix(".ods"))
    _calc(FOLDER / "formulas.ods", "xlsx:Calc MS Excel 2007 XML", FOLDER / "formulas_by_calc.xlsx")


if __name__ == "__main__":
    main()
