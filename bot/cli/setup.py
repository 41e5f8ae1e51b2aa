"""``holdfast init`` and ``holdfast doctor``."""

from __future__ import annotations

import os
from pathlib import Path

import click

from bot.cli.common import json_text, settings
from bot.cli.outcome import FAILED, CommandFailed


@click.command()
@click.argument(
    "file", default="holdfast.toml", type=click.Path(path_type=Path, dir_okay=False, allow_dash=True)
)
def init(file: Path) -> None:
    """Write a commented settings file with every key, readable by you only.

    Example: holdfast init holdfast.toml

    With - for FILE it is printed. A file that is there is never overwritten.
    """
    from bot.settings import sample

    if str(file) == "-":
        click.echo(sample())
        return
    try:
        descriptor = os.open(file, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600)
    except FileExistsError:
        raise CommandFailed(f"{file} is already there and was left as it is. Name another file.") from None
    with os.fdopen(descriptor, "w", encoding="utf-8") as out:
        out.write(sample())
    click.echo(f"Wrote {file}. Next: set telegram_token or the matrix_ keys in it, then: holdfast doctor")


@click.command()
@click.option("--offline", is_flag=True, help="Do not ask the chat platforms.")
@click.option(
    "--json", "as_json", is_flag=True, help="Print one JSON object for programs instead of sentences."
)
def doctor(offline: bool, as_json: bool) -> None:
    """Check settings, database, chats and folders, and say in plain words what is wrong.

    Example: holdfast doctor

    Every chat platform is asked whether it knows the token, for five seconds at most. Nothing is changed, and nobody is
    written to.

    Exit code 0: ready to run. 1: something named below has to be mended first.
    """
    from bot.clock import WallClock
    from bot.doctor.checks import examine

    findings = examine(settings(), WallClock().now(), offline=offline)
    wrong = sum(finding.wrong for finding in findings)
    if as_json:
        told = [{"level": finding.level, "sentence": finding.sentence} for finding in findings]
        click.echo(json_text({"ready": not wrong, "findings": told}))
    else:
        for finding in findings:
            click.echo(f"{finding.sign}  {finding.sentence}")
    if wrong:
        raise CommandFailed(f"{wrong} thing(s) to mend before it is ready.", FAILED)
    if not as_json:
        click.echo("Ready. Start it with: holdfast run")
