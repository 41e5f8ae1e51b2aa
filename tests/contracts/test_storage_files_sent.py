"""What a platform calls a file: kept with the bytes and gone with them, on every database."""

from __future__ import annotations

import pytest
from sqlmodel import select

from storage.base import blobs
from storage.base.database import Database
from storage.queue import sent_files
from storage.tables import PlatformFile
from tests.conftest import NOW


def test_an_identifier_is_found_again_and_the_latest_one_holds(db: Database) -> None:
    with db.begin() as session:
        digest = blobs.keep(session, b"a picture", "image/png", NOW)
        assert sent_files.put(session, "telegram", digest, "AgAC1")
        assert sent_files.put(session, "telegram", digest, "AgAC2")
    with db.begin() as session:
        assert sent_files.get(session, "telegram", digest) == "AgAC2"
        assert sent_files.get(session, "matrix", digest) is None


@pytest.mark.parametrize("ref", ["AgAC1", "x" * 256])
def test_nothing_is_kept_of_bytes_that_we_do_not_have_or_of_an_identifier_that_is_too_long(
    db: Database, ref: str
) -> None:
    with db.begin() as session:
        digest = blobs.keep(session, b"a picture", "image/png", NOW) if len(ref) > 255 else "0" * 64
        assert not sent_files.put(session, "telegram", digest, ref)
        assert session.exec(select(PlatformFile)).all() == []


def test_identifiers_go_when_the_bytes_go(db: Database) -> None:
    with db.begin() as session:
        digest = blobs.keep(session, b"a picture", "image/png", NOW)
        sent_files.put(session, "telegram", digest, "AgAC1")
        assert blobs.forget(session, digest)
        assert sent_files.get(session, "telegram", digest) is None
