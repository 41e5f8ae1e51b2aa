"""What an upload is, told by its content; what is not read is refused in plain words."""

from __future__ import annotations

import pytest

from storage.files.reading import limits
from storage.files.reading.archive import content_of
from storage.files.reading.sheet import FileRefused
from tests.samples.workbooks import ods, ods_of, packed, repacked, xlsx
from tests.wording import sentence as english

BOOK = xlsx([["topic", "date"]])


def refused(data: bytes, name: str = "plan.xlsx") -> str:
    with pytest.raises(FileRefused) as caught:
        content_of(data, name)
    return english(caught.value.problem)


@pytest.mark.parametrize(
    ("data", "kind"),
    [
        (BOOK, "xlsx"),
        (ods([["topic"]]), "ods"),
        (b"topic,date\n", "csv"),
        (b"BEGIN:VCALENDAR\r\n", "ics"),
        ("\ufeffbegin:vcalendar\r\n".encode(), "ics"),
        ("BEGIN:VCALENDAR\r\n".encode("utf-16"), "ics"),
    ],
)
def test_content_decides_and_not_the_name(data: bytes, kind: str) -> None:
    assert content_of(data, "whatever.pdf") == kind


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"\xff\xd8\xff\xe0", "is a picture"),
        (b"\x89PNG\r\n", "is a picture"),
        (b"\0\0\0\x18ftypheic", "is a picture"),
        (b"OggS\0", "is a voice message or a film"),
        (b"\0\0\0\x18ftypmp42", "is a voice message or a film"),
        (b"7z\xbc\xaf\x27\x1c", "is a compressed archive"),
        (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"x" * 99, "an old binary document"),
        (
            b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + "EncryptedPackage".encode("utf-16-le"),
            "protected with a password",
        ),
        (b"\x7fELF", "is a program"),
        (packed({"a.txt": b""}), "an archive (.zip)"),
        (packed({"Index/Document.iwa": b""}), "a format of its own"),
        (packed({"xl/workbook.bin": b""}), "a binary workbook (.xlsb)"),
        (b"PK\x03\x04 broken", "looks like a workbook, but it is damaged"),
        (b"", "plan.xlsx is empty"),
        (b"  \r\n\xef\xbb\xbf", "plan.xlsx is empty"),
        (b"\0" * 1000, "plan.xlsx is empty"),
    ],
)
def test_other_kinds_are_refused_by_name(data: bytes, words: str) -> None:
    assert words in refused(data)


def test_macros_are_refused_whatever_the_file_is_called() -> None:
    assert "contains macros" in refused(repacked(BOOK, {"xl/vbaProject.bin": b"x"}))
    assert "contains macros" in refused(ods_of(b"<x/>", Basic__Standard__Module1_xml=b"x"))


def test_an_empty_list_of_macro_libraries_is_no_macro() -> None:
    archive = repacked(ods([["topic"]]), {"Basic/script-lc.xml": b"<x/>"})
    assert content_of(archive, "plan.ods") == "ods"


def test_locked_opendocument_is_refused() -> None:
    archive = repacked(ods([["topic"]]), {"META-INF/manifest.xml": b"<manifest:encryption-data/>"})
    assert "protected with a password" in refused(archive)


def test_other_opendocument_is_refused() -> None:
    archive = packed({"mimetype": b"application/vnd.oasis.opendocument.graphics", "content.xml": b""})
    assert "not a spreadsheet" in refused(archive)


def test_large_upload_is_refused_with_both_sizes() -> None:
    assert refused(b"a" * (limits.FILE_BYTES + 1)).startswith("plan.xlsx has 5 MB; the limit is 5 MB.")


def test_zip_bomb_is_refused_by_the_sizes_it_declares() -> None:
    bomb = repacked(BOOK, {"xl/media/zeros.bin": b"\0" * (limits.UNPACKED_BYTES + 1)})
    assert len(bomb) < 100_000
    assert refused(bomb).startswith("plan.xlsx unpacks to 20 MB; the limit is 20 MB.")


def test_archive_of_very_many_parts_is_refused() -> None:
    many = packed({f"{number}.xml": b"" for number in range(limits.ARCHIVE_MEMBERS + 1)})
    assert "consists of 201 parts; the limit is 200" in refused(many)


def test_encrypted_archive_is_refused() -> None:
    data = bytearray(BOOK)
    start = data.index(b"PK\x01\x02")
    data[start + 8] |= (
        1  # general purpose flag of the first part in the directory: encrypted (zipfile cannot encrypt)
    )
    assert "protected with a password" in refused(bytes(data))
