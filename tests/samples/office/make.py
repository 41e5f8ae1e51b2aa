"""Make the files of this folder again: python -m tests.samples.office.make [NAME…]

Needs LibreOffice (Writer and Calc), Gnumeric's ssconvert and pandoc. None of the files is written by a library that
the project reads with. Each content of ``contents`` is saved as people save it: as a spreadsheet by two programs in
their formats, as a text document by two programs, as a web page, as pages to print, and as text.
"""

from __future__ import annotations

import csv
import html
import re
import subprocess
import sys
import tempfile
from pathlib import Path

from tests.samples.office.contents import CONTENTS, Content

FOLDER = Path(__file__).parent
_SIGNS = str.maketrans("0123456789", "⁰¹²³⁴⁵⁶⁷⁸⁹"), str.maketrans("0123456789", "₀₁₂₃₄₅₆₇₈₉")
_WIDE = (
    "<style>@page { size: 29.7cm 21cm } td { padding: 2pt }</style>"  # across, so that few cells are broken
)


def _office(source: Path, target: str, folder: Path, *filters: str) -> None:
    home = folder / "home"
    subprocess.run(
        ["soffice", f"-env:UserInstallation=file://{home}", "--headless", "--norestore", *filters,
         "--convert-to", target, "--outdir", str(folder), str(source)],
        check=True, capture_output=True,
    )  # fmt: skip


def _plain(cell: str) -> str:
    up, down = _SIGNS
    cell = re.sub(r"<sup>(.*?)</sup>", lambda found: found[1].translate(up), cell)
    return re.sub(r"<sub>(.*?)</sub>", lambda found: found[1].translate(down), cell)


def _marked(cell: str) -> str:
    return re.sub(r"&lt;(/?su[bp])&gt;", r"<\1>", html.escape(cell, quote=False))


def page_of(content: Content) -> str:
    """Write a content as a web page."""
    if content.lines:
        body = "".join(f"<p>{_marked(' '.join(row))}</p>" for row in content.rows)
    else:
        titles = [row for row in content.rows if len(row) == 1]
        rows = "".join(
            "<tr>" + "".join(f"<td>{_marked(cell)}</td>" for cell in row) + "</tr>"
            for row in content.rows
            if len(row) > 1
        )
        body = (
            "".join(f"<h1>{_marked(title)}</h1>" for (title,) in titles) + f'<table border="1">{rows}</table>'
        )
    return f'<!DOCTYPE html><html><head><meta charset="utf-8">{_WIDE}</head><body>{body}</body></html>'


def _as_text(content: Content, path: Path, separator: str, encoding: str) -> None:
    with path.open("w", encoding=encoding, newline="") as file:
        csv.writer(file, delimiter=separator).writerows(
            [[_plain(cell) for cell in row] for row in content.rows]
        )


def make(name: str, content: Content, folder: Path) -> None:
    """Save a content in every format."""
    source = folder / f"{name}.html"
    source.write_text(page_of(content), "utf-8")
    table = folder / f"{name}.csv"
    _as_text(content, table, ",", "utf-8")
    made = {"html": source, "csv": table}
    # A document of LibreOffice Writer, and what it makes of it.
    _office(source, "docx:MS Word 2007 XML", folder, "--infilter=HTML (StarWriter)")
    _office(source, "odt", folder, "--infilter=HTML (StarWriter)")
    _office(folder / f"{name}.odt", "pdf", folder)
    made |= {kind: folder / f"{name}.{kind}" for kind in ("docx", "odt", "pdf")}
    # Text files as they are saved on a German computer, and with tabs.
    for kind, separator, encoding in (("semicolon.csv", ";", "cp1252"), ("tabs.txt", "\t", "utf-16")):
        if kind in content.without:
            continue
        made[kind] = folder / f"{name}.{kind}"
        _as_text(content, made[kind], separator, encoding)
    # Spreadsheets of LibreOffice Calc, every cell as text (2) so that nothing is turned into a date.
    cells = "/".join(f"{place}/2" for place in range(1, 41))
    for kind in ("xlsx", "xls", "ods"):
        made[f"calc.{kind}"] = folder / f"{name}.{kind}"
        _office(table, kind, folder, f"--infilter=CSV:44,34,76,1,{cells}")
    # The same with dates and numbers that the program has recognised, by Gnumeric.
    for kind in ("xlsx", "ods"):
        made[f"gnumeric.{kind}"] = folder / f"{name}.gnumeric.{kind}"
        subprocess.run(
            ["ssconvert", str(table), str(made[f"gnumeric.{kind}"])], check=True, capture_output=True
        )
    for kind in ("docx", "md"):
        made[f"pandoc.{kind}"] = folder / f"{name}.pandoc.{kind}"
        to = ["-t", "gfm"] if kind == "md" else []
        subprocess.run(
            ["pandoc", str(source), *to, "-o", str(made[f"pandoc.{kind}"])], check=True, capture_output=True
        )
    for kind, path in made.items():
        if kind not in content.without:
            (FOLDER / f"{name}.{kind}").write_bytes(path.read_bytes())


def main() -> None:
    """Make all, or those that are named."""
    for name in sys.argv[1:] or CONTENTS:
        with tempfile.TemporaryDirectory() as folder:
            make(name, CONTENTS[name], Path(folder))


if __name__ == "__main__":
    main()
