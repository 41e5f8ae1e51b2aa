import asyncio
import io
from collections.abc import Iterable
from datetime import UTC, datetime

import pytest
from rich.console import Console

from bot.chat.port import Attachment, Button, FileSent, Incoming, Message, SendRefused, TextSaid
from bot.chat.terminal import TerminalChat
from bot.clock import HandClock
from bot.words.rich import Rich, Span

NOW = datetime(2026, 9, 7, 18, 0, tzinfo=UTC)


def _chat(tmp_path, lines: Iterable[str] = ()) -> tuple[TerminalChat, io.StringIO]:
    said = iter(lines)

    async def read_line(_prompt: str) -> str | None:
        return next(said, None)

    out = io.StringIO()
    return TerminalChat(HandClock(NOW), Console(file=out, width=80), read_line, tmp_path / "files"), out


async def _play(chat: TerminalChat) -> list[Incoming]:
    events: list[Incoming] = []

    async def on_event(event: Incoming) -> None:
        events.append(event)

    await chat.run(on_event, asyncio.Event())
    return events


async def test_lines_are_said_by_whoever_has_the_keyboard(tmp_path):
    chat, _ = _chat(tmp_path, ["hello", ":mira", "b", "", ":quit", "never"])
    events = await _play(chat)
    assert [(event.user, event.content) for event in events] == [
        ("you", TextSaid("hello")),
        ("mira", TextSaid("b")),
    ]
    assert len({event.key for event in events}) == 2
    assert all(event.at == NOW and event.place == "private" for event in events)


async def test_a_post_in_the_class_channel_is_marked_as_such(tmp_path):
    chat, _ = _chat(tmp_path, [":class New topic: Waves"])
    (event,) = await _play(chat)
    assert (event.place, event.address, event.content) == ("class", "class", TextSaid("New topic: Waves"))


async def test_a_file_is_sent_with_its_caption_and_fetched(tmp_path):
    path = tmp_path / "term.csv"
    path.write_bytes(b"date,topic\n")
    chat, _ = _chat(tmp_path, [f":file {path} our term"])
    (event,) = await _play(chat)
    assert isinstance(event.content, FileSent)
    assert (event.content.name, event.content.size_bytes, event.content.caption) == (
        "term.csv",
        11,
        "our term",
    )
    assert await chat.fetch(event.content.handle) == b"date,topic\n"


async def test_a_file_that_is_not_there_is_named(tmp_path):
    chat, out = _chat(tmp_path, [":file nowhere.csv"])
    assert await _play(chat) == []
    assert 'There is no file "nowhere.csv"' in out.getvalue()
    with pytest.raises(SendRefused):
        await chat.fetch("nowhere.csv")


async def test_a_message_shows_text_buttons_and_letters_without_reading_markup(tmp_path):
    chat, out = _chat(tmp_path)
    text = Rich((Span("1 of 3", True), Span("\n[bold]How far?[/bold]")))
    choice = ((Button("8 cm", "student:answer:1:0", ("a",), "A"),), (Button("Not sure", "student:unsure:1"),))
    ref = await chat.send("mira", Message(text, choice), token="t1")
    assert "[bold]How far?[/bold]" in out.getvalue()
    assert "[A  8 cm]" in out.getvalue()
    assert "[Not sure]" in out.getvalue()
    assert await chat.send("mira", Message(Rich.of("Right")), token="t2", edits=ref) == ref
    assert "(changed) Right" in out.getvalue()


async def test_a_document_is_put_into_the_folder_under_its_bare_name(tmp_path):
    chat, out = _chat(tmp_path)
    document = Attachment("../../week.xlsx", "application/zip", b"PK", "the week as a workbook")
    await chat.send("you", Message(Rich.of("Your week"), attachment=document), token="t")
    assert (tmp_path / "files" / "week.xlsx").read_bytes() == b"PK"
    assert "the week as a workbook" in out.getvalue()


async def test_the_words_of_a_picture_stand_once_where_the_message_says_them_already(tmp_path):
    chat, out = _chat(tmp_path)
    picture = Attachment("topics.png", "image/png", b"x", alt="Six topics, about 75 %.")
    await chat.send("mira", Message(Rich((Span("Six topics, about 75 %."),)), attachment=picture), token="t1")
    assert out.getvalue().count("Six topics, about 75 %.") == 1
    await chat.send("mira", Message(Rich.of("As a workbook."), attachment=picture), token="t2")
    assert out.getvalue().count("Six topics, about 75 %.") == 1


async def test_stop_ends_the_chat_while_it_waits_for_a_line(tmp_path):
    never = asyncio.Event()

    async def read_line(_prompt: str) -> str | None:
        await never.wait()
        return None

    chat = TerminalChat(HandClock(NOW), Console(file=io.StringIO()), read_line, tmp_path)
    stop = asyncio.Event()
    running = asyncio.create_task(chat.run(lambda _event: asyncio.sleep(0), stop))
    stop.set()
    await asyncio.wait_for(running, 10)
    assert running.done()


async def test_at_the_own_keyboard_only_own_messages_are_shown_and_others_when_it_is_handed_over(tmp_path):
    chat, out = _chat(tmp_path)
    chat.own_only, chat.user = True, "mira"
    for address in ("mira", "noor", "noor", "class", "sam"):
        number = out.getvalue().count("|") + 1
        await chat.send(address, Message(Rich.of(f"{number} for {address}")), token=f"{address}{number}")
    shown = [line.strip() for line in out.getvalue().splitlines()]
    assert shown == ["mira | 1 for mira", "class | 2 for class"]
    chat._event(":noor")
    assert [line.strip() for line in out.getvalue().splitlines()[2:]] == ["noor | 2 for noor"] * 2
    chat._event(":mira")
    chat._event(":noor")
    assert len(out.getvalue().splitlines()) == 4  # what was shown once is not shown again


async def test_of_many_messages_to_others_the_latest_are_kept(tmp_path):
    chat, out = _chat(tmp_path)
    chat.own_only = True
    for number in range(9):
        await chat.send("sam", Message(Rich.of(f"number {number}")), token=f"t{number}")
    chat._event(":sam")
    assert [line.strip()[-1] for line in out.getvalue().splitlines()] == ["4", "5", "6", "7", "8"]
