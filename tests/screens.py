"""Pictures of what a phone shows: ``python -m tests.screens [FOLDER]``.

The messages are real: a class is played through the program and the strict local Bot API server, and what the server
kept is drawn as a plain chat, 390 × 844, by headless Chromium. Look of the chat: our own, none of a product's.
"""

from __future__ import annotations

import asyncio
import base64
import html
import random
import re
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path
from zoneinfo import ZoneInfo

from storage.base.database import connect
from tests.schoolweek import FRIDAY, NAMES, TEACHER, TIMETABLE, Student, join, open_class
from tests.servers.botapi import BotApi, Sent
from tests.town import Phone, Town, town

FOLDER = Path(__file__).parent / "samples" / "screens"
WIDTH, HEIGHT = 390, 844
LONDON = ZoneInfo("Europe/London")
ENDS = datetime(2026, 12, 4, 16, 0, tzinfo=UTC)

PAGE = """<!doctype html><meta charset="utf-8"><style>
* {{ box-sizing: border-box; margin: 0 }}
html, body {{ width: 390px; height: 844px; overflow: hidden }}
body {{ background: #eceae4; font: 16px/1.4 "DejaVu Sans", sans-serif; color: #1b1b1b; display: flex; flex-direction: column }}
header {{ background: #fbfaf7; border-bottom: 1px solid #c9c5ba; padding: 14px 16px 10px; font-weight: bold; flex: none }}
header small {{ display: block; font-weight: normal; color: #5a564c; font-size: 12px }}
main {{ flex: 1; overflow: hidden; display: flex; flex-direction: column; justify-content: {end}; padding: 10px 12px 14px }}
main > * {{ flex: none }}
.said {{ background: #fff; border: 1px solid #d6d2c7; border-radius: 6px; padding: 9px 11px; margin-top: 8px; width: fit-content;
  max-width: 94%; white-space: pre-wrap; overflow-wrap: anywhere; font-size: 15px }}
.mine {{ background: #e0e6df; border-color: #b9c4b7; align-self: flex-end }}
.said img {{ display: block; width: 100%; margin-bottom: 7px }}
.said .file {{ border: 1px solid #d6d2c7; padding: 8px; margin-bottom: 7px; background: #f6f4ee }}
.said time {{ display: block; text-align: right; font-size: 11px; color: #6b675d; margin-top: 2px }}
.row {{ display: flex; gap: 6px; margin-top: 6px; max-width: 94% }}
.row span {{ flex: 1; background: #f6f4ee; border: 1px solid #8d887b; border-radius: 6px; padding: 9px 6px; text-align: center;
  font-size: 14px; overflow: hidden; text-overflow: ellipsis; white-space: nowrap }}
</style><header>Holdfast<small>{title}</small></header><main>{messages}</main>"""  # noqa: E501 - rules of a style sheet


# ---------------------------------------------------------------- drawing


def page(api: BotApi, shown: Sequence[Sent], title: str, *, top: bool = False) -> str:
    """Return a chat as a page: the newest message at the bottom, or the oldest at the `top` as after scrolling up."""
    return PAGE.format(
        title=html.escape(title),
        end="flex-start" if top else "flex-end",
        messages="".join(_bubble(api, sent) for sent in shown if _said(sent)),
    )


def _said(sent: Sent) -> bool:
    return bool(sent.text or sent.photo or sent.document)


def _bubble(api: BotApi, sent: Sent) -> str:
    at = sent.date.astimezone(LONDON)
    inner = f"{_picture(api, sent)}{_marked(sent)}<time>{at:%a %H:%M}</time>"
    rows = "".join(f'<div class="row">{_row(row)}</div>' for row in sent.keyboard)
    return f'<div class="said {"" if sent.by_bot else "mine"}">{inner}</div>{rows}'


def _row(row: Sequence[dict[str, str]]) -> str:
    return "".join(f"<span>{html.escape(button['text'])}</span>" for button in row)


def _picture(api: BotApi, sent: Sent) -> str:
    if sent.photo:
        return f'<img src="data:image/png;base64,{base64.b64encode(api.files[sent.photo]).decode()}">'
    if sent.document or "document" in sent.extra:
        name = api.file_names[sent.document] if sent.document else sent.extra["document"]["file_name"]
        return f'<div class="file">{html.escape(name)}</div>'
    return ""


def _marked(sent: Sent) -> str:
    """Return the text with what the server read as strong; offsets are counted in UTF-16 units."""
    units = sent.text.encode("utf-16-le")
    out, done = "", 0
    for entity in sorted(sent.parsed.entities, key=lambda one: one["offset"]):
        start, end = 2 * entity["offset"], 2 * (entity["offset"] + entity["length"])
        out += html.escape(units[done:start].decode("utf-16-le"))
        out += f"<b>{html.escape(units[start:end].decode('utf-16-le'))}</b>"
        done = end
    return out + html.escape(units[done:].decode("utf-16-le"))


def browser_path() -> str:
    """Return where Chromium is."""
    found = shutil.which("chromium") or shutil.which("chromium-browser")
    if found is None:
        raise SystemExit("Chromium is needed to draw the screens: apt-get install chromium")
    return found


def draw(source: str, target: Path) -> None:
    """Let Chromium draw a page."""
    with tempfile.TemporaryDirectory() as folder:
        written = Path(folder) / "page.html"
        written.write_text(source, encoding="utf-8")
        flags = (
            "--headless",
            "--no-sandbox",
            "--disable-gpu",
            "--disable-background-networking",
            "--hide-scrollbars",
        )
        where = (
            f"--user-data-dir={folder}/profile",
            f"--screenshot={target}",
            f"--window-size={WIDTH},{HEIGHT}",
        )
        subprocess.run(
            [browser_path(), *flags, *where, written.as_uri()], check=True, capture_output=True, timeout=120
        )


# ---------------------------------------------------------------- playing


class Camera:
    """Takes a picture of a phone as it stands."""

    def __init__(self, place: Town, folder: Path) -> None:
        self.place, self.folder = place, folder
        self.taken: set[str] = set()

    def take(self, name: str, phone: Phone, title: str, last: int = 6, *, top: bool = False) -> None:
        """Keep the last messages of a phone under a name, once."""
        if name in self.taken:
            return
        self.taken.add(name)
        shown = list(self.place.api.places[phone.id].messages.values())[-last:]
        draw(page(self.place.api, shown, title, top=top), self.folder / f"{name}.png")


async def play(folder: Path) -> None:
    """Play a week of a class and keep a picture of each thing that is worth one."""
    async with town(connect("sqlite://"), FRIDAY) as place:
        camera = Camera(place, folder)
        teacher = place.phone(TEACHER, "Ms Okafor")
        code = await open_class(place, teacher)
        bad = TIMETABLE + "31/11/2026,Upthrust,lesson,09:00,\n2026-12-09,,lesson,09:00,\n"
        await teacher.sends("timetable with problems.csv", bad.encode(), "timetable")
        camera.take("teacher_preview_with_problems", teacher, "Ms Okafor · teacher", 2)
        await teacher.presses("Cancel")
        students = [
            Student(
                place.phone(1001 + number, name),
                ("types", "taps", "ignores")[number % 3],
                random.Random(number),
            )
            for number, name in enumerate(NAMES)
        ]
        for student in students:
            await join(student.phone, code)
        camera.take("joined", students[0].phone, "Mira · student", 5)

        def look() -> None:
            _watch(camera, students[0].phone)
            for student in students:
                student.look()

        await place.go_to(ENDS, each=look)
        await students[0].phone.says("progress")
        camera.take("progress", students[0].phone, "Mira · student", 2)
        await teacher.says("report")
        camera.take("weekly_report", teacher, "Ms Okafor · teacher", 1, top=True)
        camera.take("weekly_report_below", teacher, "Ms Okafor · teacher", 1)


def _watch(camera: Camera, phone: Phone) -> None:
    latest = phone.shown[-1] if phone.shown else None
    if latest is None:
        return
    for sent in phone.shown[-2:]:
        for sign, name in (("✓", "right"), ("✗", "wrong")):
            if sign in sent.text:
                camera.take(name, phone, "Mira · student", 4)
    if "Start" in latest.buttons:
        camera.take("nudge", phone, "Mira · student", 1)
    elif "Not sure" in latest.buttons:
        kind = "choice" if any(re.match(r"A\s", label) for label in latest.buttons) else "number"
        camera.take(f"question_{kind}", phone, "Mira · student", 2)


def main() -> None:
    """Write the pictures."""
    folder = Path(sys.argv[1]) if len(sys.argv) > 1 else FOLDER
    folder.mkdir(parents=True, exist_ok=True)
    asyncio.run(play(folder))


if __name__ == "__main__":
    main()
