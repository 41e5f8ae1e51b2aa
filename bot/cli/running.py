"""``holdfast run`` and ``holdfast demo``."""

from __future__ import annotations

import asyncio
import sys
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from bot.cli.common import settings
from bot.cli.option_types import moment
from bot.cli.outcome import SETTINGS, CommandFailed

if TYPE_CHECKING:
    from bot.chat.port import Chat
    from bot.clock import Clock
    from bot.settings import Settings


@click.command()
@click.option(
    "--rehearse",
    type=click.FloatRange(min=1),
    metavar="SPEED",
    help="Run the clock SPEED times as fast: 1440 makes a minute a day.",
)
@click.option(
    "--start",
    type=moment,
    metavar="MOMENT",
    help="Where a rehearsal starts, such as 2026-09-07T08:00+01:00.",
)
@click.option(
    "--terminal", is_flag=True, help="Chat in this terminal instead of, or beside, the chats of the settings."
)
@click.option(
    "--new-bot", is_flag=True, help="Let the bot of the settings take this database over from another one."
)
def run(rehearse: float | None, start: datetime | None, terminal: bool, new_bot: bool) -> None:
    """Run the bot until it is stopped with Ctrl-C or a termination signal.

    Example: holdfast run --terminal --rehearse 1440 --start 2026-09-07T08:00+01:00

    Everything due is in the database: stopping and starting again loses nothing and asks nothing twice.
    """
    from bot.identity import AnotherBot
    from bot.logs import set_up
    from bot.running import run_until_stopped

    chosen = settings()
    set_up(chosen.log_level)
    clock = _clock(rehearse, start)
    chats = _chats(chosen, clock, terminal=terminal)
    try:
        asyncio.run(run_until_stopped(chosen, clock, chats, new_bot=new_bot))
    except AnotherBot as another:
        raise CommandFailed(str(another), SETTINGS) from None


def _clock(rehearse: float | None, start: datetime | None) -> Clock:
    from bot.clock import RehearsalClock, WallClock

    if rehearse is None:
        if start is not None:
            raise click.UsageError("--start belongs to a rehearsal: add --rehearse SPEED.")
        return WallClock()
    return RehearsalClock(start or WallClock().now(), rehearse)


def _chats(chosen: Settings, clock: Clock, *, terminal: bool) -> list[Chat]:
    """Make the adapters that the settings ask for. Their libraries are imported here, and only if used."""
    chats: list[Chat] = []
    if chosen.telegram_token is not None:
        from bot.chat.telegram.adapter import telegram_from
        from bot.talk.help import newcomers_menus

        menus = newcomers_menus(chosen.default_language)
        chats.append(telegram_from(chosen, clock, menus=menus))
    if chosen.matrix_homeserver:
        from bot.extras import lacking

        missing = lacking("matrix", "Matrix is set up (HOLDFAST_MATRIX_HOMESERVER) and")
        if missing:
            raise CommandFailed(missing, SETTINGS)
        from bot.chat.matrix.adapter import matrix_from

        chats.append(matrix_from(chosen, clock))
    if terminal:
        from rich.console import Console

        from bot.chat.terminal import TerminalChat, keyboard

        console = Console()
        chats.append(TerminalChat(clock, console, keyboard(console), chosen.data_dir / "sent"))
    if not chats:
        raise CommandFailed(
            "No chat is set up, so nobody could be asked. Set HOLDFAST_TELEGRAM_TOKEN or the HOLDFAST_MATRIX_ "
            "settings, or chat in this terminal: holdfast run --terminal",
            SETTINGS,
        )
    return chats


@click.command()
@click.option(
    "--out",
    type=click.Path(path_type=Path, file_okay=False),
    default=Path("holdfast-demo"),
    show_default=True,
    help="Folder for the report, the forecast and the database: a new or empty one, or an earlier demo's.",
)
@click.option("--weeks", type=click.IntRange(1, 14), default=12, show_default=True, help="How long to play.")
@click.option(
    "--continue", "go_on", is_flag=True, help="Go on where the last run stopped instead of starting clean."
)
@click.option(
    "--seed",
    type=int,
    default=7,
    show_default=True,
    help="Which invented students: the same seed, the same term.",
)
@click.option(
    "--quiet", is_flag=True, help="Do not show the term live, and do not hand over the keyboard at its end."
)
def demo(out: Path, weeks: int, go_on: bool, seed: int, quiet: bool) -> None:
    """Play a term of an invented school: the real program, 24 invented students, a clock that runs ahead.

    Example: holdfast demo --out demo --weeks 12

    With a terminal the term is shown live, and then the keyboard is yours, as a student or as the teacher.
    Without one it ends by itself. A folder that holds anything else is refused and left as it is.
    """
    if sys.stdout.isatty() and not quiet:
        # Before the imports, which take longer than anybody likes to look at nothing.
        click.echo(
            "Opening an invented school: 24 students, one class, a term ahead. Ctrl-C ends it.", err=True
        )
    from bot.demo.play import play

    play(out, weeks=weeks, go_on=go_on, seed=seed, quiet=quiet)
