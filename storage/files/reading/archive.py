"""What an upload is, told by its content and never by its name; archives are looked at before they are unpacked."""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Iterator
from typing import Literal

from storage.files.problem import Phrase, problem
from storage.files.reading import limits
from storage.files.reading.sheet import FileRefused

Content = Literal["csv", "xlsx", "xls", "ods", "odt", "ics", "docx", "html", "pdf", "qti"]

_OLD_OFFICE = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
_PICTURES = (b"\x89PNG", b"\xff\xd8\xff", b"GIF8", b"II*\0", b"MM\0*", b"BM")
_SOUNDS = (b"OggS", b"ID3", b"\xff\xfb", b"fLaC")
_OTHER_KINDS: tuple[tuple[bytes, Phrase], ...] = (
    (b"\x1f\x8b", Phrase("kind.compressed")),
    (b"7z\xbc\xaf\x27\x1c", Phrase("kind.compressed")),
    (b"Rar!", Phrase("kind.compressed")),
    (b"{\\rtf", Phrase("kind.rtf")),
    (b"SQLite format 3", Phrase("kind.database")),
    (b"\x7fELF", Phrase("kind.program")),
    (b"MZ\x90", Phrase("kind.program")),
)
_OPEN_DOCUMENTS: dict[bytes, Content] = {
    b"application/vnd.oasis.opendocument.spreadsheet": "ods",
    b"application/vnd.oasis.opendocument.spreadsheet-template": "ods",
    b"application/vnd.oasis.opendocument.text": "odt",
    b"application/vnd.oasis.opendocument.text-template": "odt",
}
_DECLARATIONS = (b"<!DOCTYPE", b"<!ENTITY")
_ROOT = re.compile(rb"<(?![?!])([A-Za-z:-]+)")
_ROOT_BYTES = 4096
_ITEMS = (b"assessmentitem", b"assessment-item", b"assessmenttest", b"assessment-test")
_MARKUP = ("<!doctype", "<html", "<?xml", "<table", "<meta", "<assessmentitem", "<qti-assessment")


def content_of(data: bytes, name: str) -> Content:
    """Tell what kind of file this is.

    Parameters
    ----------
    data : bytes
        The file.
    name : str
        Its name, for the message only.

    Returns
    -------
    {'csv', 'xlsx', 'xls', 'ods', 'odt', 'ics', 'docx', 'html', 'pdf', 'qti'}

    Raises
    ------
    FileRefused
        If it is empty, too large, an archive that passes the limits, or a kind that is not read.
    """
    if not data.strip(b"\0 \t\r\n\xef\xbb\xbf\xff\xfe"):
        raise FileRefused(problem("file_empty", name=name))
    if len(data) > limits.FILE_BYTES:
        raise FileRefused(
            problem("file_large", name=name, size=megabytes(len(data)), limit=megabytes(limits.FILE_BYTES))
        )
    if data.startswith(b"PK"):
        return _archive_kind(data, name)
    if data.startswith(_OLD_OFFICE):
        return _old_office(data, name)
    if data[:1024].lstrip(b"\xef\xbb\xbf\r\n\t ").startswith(b"%PDF-"):
        return "pdf"
    _refuse_other_kinds(data, name)
    return _text_kind(data)


def _refuse_other_kinds(data: bytes, name: str) -> None:
    """Refuse pictures, sounds and what else is known not to be a table, each in its words."""
    family = data[4:12] if data[4:8] == b"ftyp" else b""  # pictures of phones, films and voice messages alike
    if data.startswith(_PICTURES) or data[8:12] == b"WEBP" or family[4:7] in (b"hei", b"mif", b"avi"):
        raise FileRefused(problem("file_picture", name=name))
    if data.startswith((*_SOUNDS, b"RIFF")) or family:
        raise FileRefused(problem("file_sound", name=name))
    for mark, kind in _OTHER_KINDS:
        if data.startswith(mark):
            raise FileRefused(problem("file_kind", name=name, kind=kind))


def _text_kind(data: bytes) -> Content:
    """Tell calendars and web pages from tables, whatever the encoding."""
    start = data[:400].replace(b"\0", b"").lstrip(b"\xef\xbb\xbf\xff\xfe").decode("latin-1").lstrip().lower()
    if start.startswith("begin:vcalendar"):
        return "ics"
    if start.startswith(_MARKUP):
        root = _ROOT.search(data[:_ROOT_BYTES].replace(b"\0", b""))
        return "qti" if root and root[1].lower().endswith(_ITEMS) else "html"
    return "csv"


def _old_office(data: bytes, name: str) -> Content:
    """Tell an old workbook from what is locked with a password, and from other documents of the old binary kind."""
    if "EncryptedPackage".encode("utf-16-le") in data:
        raise FileRefused(problem("file_locked", name=name))
    if any(part.encode("utf-16-le") in data for part in ("Workbook", "Book")):
        return "xls"
    raise FileRefused(problem("file_kind", name=name, kind=Phrase("kind.old")))


def _archive_kind(data: bytes, name: str) -> Content:
    """Tell the kind of an archive from the names of its parts, after adding up what they declare."""
    parts = _parts(data, name)
    names = {part.filename for part in parts}
    if any(part.flag_bits & 0x1 for part in parts):
        raise FileRefused(problem("file_locked", name=name))
    if any(one.lower().endswith("vbaproject.bin") or _is_basic(one) for one in names):
        raise FileRefused(problem("file_macros", name=name))
    if "xl/workbook.xml" in names:
        return "xlsx"
    if "word/document.xml" in names:
        return "docx"
    if any(one.rsplit("/", 1)[-1] == "imsmanifest.xml" for one in names):
        return "qti"
    if "content.xml" in names and "mimetype" in names:
        return _open_document_kind(data, name)
    raise FileRefused(problem("file_kind", name=name, kind=_other_archive(names)))


def _parts(data: bytes, name: str) -> list[zipfile.ZipInfo]:
    """List the parts of an archive, refusing what is damaged, too many or too large when unpacked."""
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            parts = archive.infolist()
    except Exception:  # a damaged directory makes zipfile raise a dozen kinds; all mean the same here
        raise FileRefused(problem("file_broken", name=name, kind=Phrase("kind.workbook"))) from None
    if len(parts) > limits.ARCHIVE_MEMBERS:
        raise FileRefused(problem("file_members", name=name, size=len(parts), limit=limits.ARCHIVE_MEMBERS))
    unpacked = sum(part.file_size for part in parts)
    if unpacked > limits.UNPACKED_BYTES:
        size, limit = megabytes(unpacked), megabytes(limits.UNPACKED_BYTES)
        raise FileRefused(problem("file_unpacked_large", name=name, size=size, limit=limit))
    return parts


def _is_basic(part: str) -> bool:
    """Whether a part of an OpenDocument archive is a macro (an empty list of macro libraries is none)."""
    inside = part.startswith(("Basic/", "Scripts/")) and not part.endswith("/")
    return inside and not part.endswith(("script-lb.xml", "script-lc.xml"))


def _open_document_kind(data: bytes, name: str) -> Content:
    """Tell spreadsheets from other OpenDocument files, and locked from open ones."""
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            kind = archive.read("mimetype")
            manifest = archive.read("META-INF/manifest.xml") if _has_manifest(archive) else b""
    except Exception:  # as in _parts: one message for every kind of damage
        raise FileRefused(problem("file_broken", name=name, kind=Phrase("kind.workbook"))) from None
    if b"encryption-data" in manifest:
        raise FileRefused(problem("file_locked", name=name))
    found = _OPEN_DOCUMENTS.get(kind.strip())
    if found is None:
        raise FileRefused(problem("file_kind", name=name, kind=Phrase("kind.opendocument")))
    return found


def _has_manifest(archive: zipfile.ZipFile) -> bool:
    return "META-INF/manifest.xml" in archive.namelist()


def _other_archive(names: set[str]) -> Phrase:
    if "ppt/presentation.xml" in names:
        return Phrase("kind.pptx")
    if "xl/workbook.bin" in names:
        return Phrase("kind.xlsb")
    if any(one.startswith("Index/") and one.endswith(".iwa") for one in names) or "Index.zip" in names:
        return Phrase("kind.own")
    return Phrase("kind.zip")


def xml_parts(archive: zipfile.ZipFile, name: str) -> Iterator[tuple[str, bytes]]:
    """Give every XML part, refusing document type and entity declarations in any encoding.

    No spreadsheet program writes them; entity bombs and the reading of other files start with them.
    """
    for part in archive.infolist():
        if part.filename.endswith((".xml", ".rels", ".vml")):
            content = archive.read(part)
            plain = content.replace(b"\0", b"").upper()
            if any(mark in plain for mark in _DECLARATIONS):
                raise FileRefused(problem("file_entities", name=name))
            yield part.filename, content


def megabytes(size: int) -> str:
    """Write a size in bytes for people.

    Examples
    --------
    >>> megabytes(5 * 1024 * 1024), megabytes(318_000_000), megabytes(900)
    ('5 MB', '303 MB', '1 kB')
    """
    if size < limits.MIB:
        return f"{max(1, round(size / 1024))} kB"
    return f"{size / limits.MIB:.0f} MB"
