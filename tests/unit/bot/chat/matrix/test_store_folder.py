"""The store folder of the bot's keys, and what the doctor says about it."""

import os
import stat
from datetime import UTC, datetime
from pathlib import Path

import pytest
from nio import AsyncClient
from pydantic import SecretStr

from bot.chat.backoff import SetupRefused
from bot.chat.matrix.login import Account, log_in, make_client
from bot.chat.matrix.store_folder import open_folder, private_umask, read_private, write_private
from bot.chat.port import ChatStopped
from bot.doctor.checks import examine
from bot.settings import Settings

NOW = datetime(2026, 11, 27, 18, 0, tzinfo=UTC)


def mode(path: Path) -> int:
    return stat.S_IMODE(path.stat().st_mode)


def test_the_folder_is_closed_to_others_even_if_it_was_open(tmp_path: Path) -> None:
    folder = tmp_path / "data" / "matrix"
    folder.mkdir(parents=True)
    folder.chmod(0o755)
    open_folder(folder)
    assert mode(folder) == 0o700
    open_folder(tmp_path / "new" / "matrix")
    assert mode(tmp_path / "new") == 0o700


def test_the_mask_is_put_back(tmp_path: Path) -> None:
    before = os.umask(0o022)
    try:
        with private_umask():
            (tmp_path / "inside").touch()
        (tmp_path / "outside").touch()
    finally:
        os.umask(before)
    assert (mode(tmp_path / "inside"), mode(tmp_path / "outside")) == (0o600, 0o644)


def test_a_small_file_is_there_whole_or_not_at_all(tmp_path: Path) -> None:
    path = tmp_path / "login.json"
    assert read_private(path) is None
    path.with_suffix(".new").write_text("left over from a crash")
    write_private(path, {"token": "a"})
    write_private(path, {"token": "b"})
    assert read_private(path) == {"token": "b"}
    assert mode(path) == 0o600
    assert list(tmp_path.iterdir()) == [path]


@pytest.mark.parametrize("content", ["[1]", '{"user"', ""])
def test_a_damaged_file_is_an_error(tmp_path: Path, content: str) -> None:
    path = tmp_path / "login.json"
    path.write_text(content)
    with pytest.raises(ValueError):  # noqa: PT011 - whatever the damage is
        read_private(path)


@pytest.mark.parametrize(
    ("content", "why"),
    [
        ("{", "login.json is damaged"),
        ('{"user": "@other:x", "device": "D", "token": "t"}', "belongs to @other:x"),
    ],
)
async def test_a_folder_that_cannot_be_used_stops_the_chat_with_a_sentence(
    tmp_path: Path, content: str, why: str
) -> None:
    account = Account("http://127.0.0.1:9", "@holdfast:x", tmp_path, password="secret")
    (tmp_path / "login.json").write_text(content)
    client: AsyncClient = make_client(account, 1.0)
    with pytest.raises(SetupRefused, match=why) as refused:
        await log_in(client, account)
    assert isinstance(refused.value, ChatStopped)
    assert "secret" not in str(refused.value) + repr(account)


def findings(tmp_path: Path, **changed: str) -> list[str]:
    values = {"matrix_homeserver": "https://matrix.x", "matrix_user": "@holdfast:x"} | changed
    chosen = Settings(data_dir=tmp_path, matrix_password=SecretStr("secret"), **values)  # type: ignore[arg-type]
    return [
        f"{found.sign} {found.sentence}"
        for found in examine(chosen, NOW, offline=True)
        if "matrix" in found.sentence.lower()
    ]


def test_the_doctor_looks_at_the_settings_and_the_folder(tmp_path: Path) -> None:
    said = "\n".join(findings(tmp_path))
    assert "ok    Matrix: @holdfast:x on https://matrix.x." in said
    assert "is made at the first start" in said
    assert "override_ratelimit" in said
    (tmp_path / "matrix").mkdir(mode=0o755)
    (tmp_path / "matrix").chmod(0o755)
    assert "WRONG Others can look into" in "\n".join(findings(tmp_path))


def test_the_doctor_notices_half_a_user_and_half_an_address(tmp_path: Path) -> None:
    assert "Write the full id" in "\n".join(findings(tmp_path, matrix_user="holdfast"))
    assert "https:// in front" in "\n".join(findings(tmp_path, matrix_homeserver="matrix.x"))
