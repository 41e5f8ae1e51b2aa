"""``holdfast db``, ``backup`` and ``restore``."""

from __future__ import annotations

import sys
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from bot.cli.common import json_text, open_database, present_moment, settings
from bot.cli.outcome import CommandFailed

if TYPE_CHECKING:
    from storage.queue.queue_statistics import QueueStatistics


@click.group()
def db() -> None:
    """Bring the database up to date, look at it, move it, or let a restored copy send.

    Example: holdfast db status
    """


@db.command()
def upgrade() -> None:
    """Make the database, or bring it to this version's tables. An SQLite file is saved beside itself first.

    Example: holdfast db upgrade

    ``holdfast run`` does the same at its start. On PostgreSQL save it first: holdfast backup
    """
    from bot.running import prepare_folder
    from storage import migrations
    from storage.base import revisions

    chosen = settings()
    prepare_folder(chosen.data_dir)
    saved = migrations.upgrade(chosen.database, now=present_moment())
    if saved is not None:
        click.echo(f"The database as it was is saved in {saved}", err=True)
    click.echo(f"{_shown(chosen.database)} is up to date (revision {revisions.head()}).")


@db.command()
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object for programs instead of lines.")
def status(as_json: bool) -> None:
    """Say what the database holds and what waits: counts and ages, no names.

    Example: holdfast db status
    """
    from storage.base import revisions
    from storage.queue import queue_statistics

    now = present_moment()
    with open_database(read_only=True) as database:
        with database.reading() as session:
            counts, found = queue_statistics.counts(session), queue_statistics.take(session, now)
        place, revision = _shown(str(database.url)), revisions.current(database.engine)
    if as_json:
        click.echo(json_text(_as_json(place, revision, counts, found)))
        return
    click.echo(f"{place}, revision {revision}")
    for name, number in counts.items():
        click.echo(f"{name}\t{number}")
    for what, (number, since) in _waiting(found).items():
        click.echo(f"{what}\t{number}" + (f"\tsince {since:%Y-%m-%d %H:%M} UTC" if since else ""))
    saved = found.backed_up_at
    click.echo(f"last backup\t{f'{saved:%Y-%m-%d %H:%M} UTC' if saved else 'never; see: holdfast backup'}")
    if found.held:
        click.echo("sending\theld, as in every restored copy; let it go with: holdfast db release")


def _waiting(found: QueueStatistics) -> dict[str, tuple[int, datetime | None]]:
    return {
        "events to handle": (found.inbox, found.inbox_since),
        "messages to send": (found.outbox, found.outbox_since),
        "work to do": (found.due, found.due_since),
    }


def _as_json(
    place: str, revision: str | None, counts: dict[str, int], found: QueueStatistics
) -> dict[str, object]:
    """Return the same for programs; moments are ISO 8601 in UTC, null where there is none."""
    return {
        "database": place,
        "revision": revision,
        "counts": counts,
        "waiting": {
            what: {"number": number, "since": _iso(since)}
            for what, (number, since) in _waiting(found).items()
        },
        "last_backup": _iso(found.backed_up_at),
        "sending_held": found.held,
    }


def _iso(moment: datetime | None) -> str | None:
    return moment.isoformat() if moment else None


@db.command()
@click.argument("source")
@click.argument("target")
def copy(source: str, target: str) -> None:
    """Copy a whole database into another one, count and hash both sides, and hold the copy's messages.

    Example: holdfast db copy sqlite:///holdfast-data/holdfast.db postgresql://holdfast@db/holdfast

    Stop the bot before the last copy. It can be run again until the copy is told to send (holdfast db release): what
    is the same is left alone. Leave a password out of the address; PostgreSQL reads it from PGPASSWORD or ~/.pgpass.
    """
    from storage.copies import transfer as copying

    with click.progressbar(
        length=copying.table_count(), label="Copying tables", file=sys.stderr, item_show_func=_shown_item
    ) as bar:

        def step(table: str, rows: int) -> None:
            bar.update(1, current_item=f"{table}, {rows} rows")

        done = copying.copy(source, target, now=present_moment(), on_table=step)
    for part in done:
        how = "the same already" if part.same_already else "copied"
        click.echo(f"{part.table}\t{part.rows} rows\t{part.digest[:16]}\t{how}")
    click.echo(
        f"{sum(part.rows for part in done)} rows in {len(done)} tables are the same on both sides. Now name the new "
        "database in HOLDFAST_DATABASE_URL, then: holdfast db release",
        err=True,
    )


@db.command()
@click.option("--yes", is_flag=True, help="Do not ask.")
def release(yes: bool) -> None:
    """Let a restored or copied database send its messages. Until then it sends nothing.

    Example: holdfast db release

    Make sure first that the database it was copied from no longer runs: else students are asked twice.
    """
    from storage.queue import outbox, queue_statistics

    with open_database() as database:
        with database.reading() as session:
            found = queue_statistics.take(session, present_moment())
        if not found.held:
            click.echo("Nothing to do: sending is not held.")
            return
        click.echo(f"{found.outbox} messages wait to be sent.", err=True)
        if not yes:
            _confirm("Does the original no longer run, and shall this one send?")
        with database.begin() as session:
            outbox.release(session)
    click.echo("It sends from now on.")


@click.command()
@click.argument("file", type=click.Path(path_type=Path))
@click.option(
    "--keep",
    type=click.IntRange(min=1),
    metavar="NUMBER",
    help="FILE is a folder: write a file with the date into it and keep the NUMBER newest.",
)
def backup(file: Path, keep: int | None) -> None:
    """Save the whole database into FILE, also while the bot runs. Only you can read the file.

    Example: holdfast backup holdfast-2026-12-01.backup

    SQLite: a database file. PostgreSQL: the custom format of pg_dump, which has to be installed. It holds students'
    data: keep it encrypted, and not longer than the class's data retention period.
    """
    from bot.running import prepare_folder
    from storage.copies.backup import backup as save

    now, chosen = present_moment(), settings()
    if keep is not None:
        prepare_folder(file)
        file = file / f"holdfast-{now:%Y%m%dT%H%M%SZ}.backup"
    written = save(chosen.database, file)
    _note_backup(now)
    if keep is not None:
        _forget_old(written.parent, keep)
    click.echo(f"Saved {_shown(chosen.database)} into {written} ({written.stat().st_size:,} bytes).")


def _note_backup(now: datetime) -> None:
    from storage.queue import queue_statistics

    with open_database() as database, database.begin() as session:
        queue_statistics.note_backup(session, now)


def _forget_old(folder: Path, keep: int) -> None:
    """Delete the older ones of what ``backup --keep`` wrote, and nothing else: their names sort by time."""
    for old in sorted(folder.glob("holdfast-*T*Z.backup"), reverse=True)[keep:]:
        old.unlink()


@click.command()
@click.argument("file", type=click.Path(path_type=Path, dir_okay=False, exists=True))
def restore(file: Path) -> None:
    """Put a saved database into the empty place that the settings name, and check that it is whole.

    Example: holdfast restore holdfast-2026-12-01.backup

    Nothing is ever overwritten. The restored database receives, but sends nothing until: holdfast db release
    """
    from bot.running import prepare_folder
    from storage.copies.backup import restore as bring_back

    chosen = settings()
    prepare_folder(chosen.data_dir)
    bring_back(file, chosen.database, now=present_moment())
    click.echo(f"Restored {file} into {_shown(chosen.database)}. It sends nothing until: holdfast db release")


def _shown_item(item: object) -> str:
    return "" if item is None else str(item)


def _shown(url: str) -> str:
    from storage.base.database import parse_url

    return parse_url(url).render_as_string(hide_password=True)


def _confirm(question: str) -> None:
    if not sys.stdin.isatty():
        raise CommandFailed("Nothing was changed. Run it again with --yes if you are sure.")
    click.confirm(question, abort=True)
