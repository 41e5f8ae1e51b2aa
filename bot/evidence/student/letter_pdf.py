"""Letters as PDF, where the optional library for it is installed; without it the HTML prints just as well."""

from __future__ import annotations

from importlib import import_module
from typing import Any

from bot.chat.port import Attachment

LIBRARY = "weasyprint"


class PdfNotInstalled(RuntimeError):
    """The optional library that makes PDFs is not there."""

    def __init__(self) -> None:
        super().__init__(
            f"PDFs need the optional library {LIBRARY}, which is not installed here, or lacks Pango, which it draws "
            "with. The letters are HTML that prints as well: open it in a browser and print it. To have PDFs: "
            "in the project's folder pip install '.[pdf]' (pinned: pip install --require-hashes -r "
            "deploy/requirements-pdf.txt)"
        )


def ready() -> None:
    """Find out whether PDFs can be made here.

    Raises
    ------
    PdfNotInstalled
        When they cannot; the text says what to do.
    """
    _library()


def printable(page: Attachment) -> Attachment:
    """Return letters as a PDF, or the HTML as it is where PDFs cannot be made."""
    try:
        return letter_pdf(page)
    except PdfNotInstalled:
        return page


def letter_pdf(page: Attachment) -> Attachment:
    """Return the PDF of a letter, or of several, from their HTML (`letter_html`).

    Raises
    ------
    PdfNotInstalled
        When the library is missing, or lacks the system libraries that it needs.
    """
    html = _library().HTML(string=page.data.decode(), url_fetcher=_nothing)
    name = page.name.removesuffix(".html") + ".pdf"
    return Attachment(name, "application/pdf", html.write_pdf(), page.alt)


def _library() -> Any:
    try:
        return import_module(LIBRARY)
    except (ImportError, OSError) as missing:
        raise PdfNotInstalled from missing


def _nothing(address: str, *_: object, **__: object) -> Any:
    """Refuse to load anything: a letter is complete in itself."""
    raise ValueError(f"A letter loads nothing from elsewhere, but {address} was asked for.")
