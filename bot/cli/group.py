"""The table of commands, and a group that imports a command only when it is used.

``holdfast --help`` has to answer at once, so the one-line descriptions stand here and not in the modules.
"""

from __future__ import annotations

from difflib import get_close_matches
from importlib import import_module

import click

COMMANDS: dict[str, tuple[str, str]] = {
    "run": ("bot.cli.running:run", "Run the bot until it is stopped."),
    "demo": ("bot.cli.running:demo", "Play a whole term of an invented school on this machine."),
    "init": ("bot.cli.setup:init", "Write a commented settings file."),
    "doctor": ("bot.cli.setup:doctor", "Say in plain words what is right and what is not."),
    "db": ("bot.cli.database:db", "Bring the database up to date, or move it."),
    "backup": ("bot.cli.database:backup", "Save the database, also while the bot runs."),
    "restore": ("bot.cli.database:restore", "Put a saved database into an empty place."),
    "class": ("bot.cli.classes:class_", "Create, list, show or close classes."),
    "teacher": ("bot.cli.classes:teacher", "Invite teachers with single-use codes, list or remove them."),
    "import": ("bot.cli.importing:import_", "Read a timetable, questions, a roster or scores from a file."),
    "try": (
        "bot.cli.try_answers:try_",
        "Grade typed answers with a question sheet, before students meet it.",
    ),
    "bank": ("bot.cli.bank:bank", "Add ready-made questions on the topics of a class."),
    "export": ("bot.cli.personal_data:export", "Write everything stored about a student or a class."),
    "erase": ("bot.cli.personal_data:erase", "Erase a student, or a class."),
    "report": ("bot.cli.evidence:report", "Write the weekly completion report of a class."),
    "forecast": ("bot.cli.evidence:forecast", "Write what a class will still know on a date."),
    "starter": ("bot.cli.pulls:starter", "Write the questions to begin the next lesson with."),
    "quality": ("bot.cli.pulls:quality", "Write which questions do not work, and what to do."),
    "comparison": ("bot.cli.pulls:comparison", "Write quiz scores beside what was predicted."),
    "illustration": ("bot.cli.pulls:illustration", "Draw what a class keeps with 0, 1, 2, 3 reviews."),
    "letters": ("bot.cli.pulls:letters", "Write a page per student for a parents' evening."),
    "progress": ("bot.cli.pulls:progress", "Draw one student's own topics."),
    "evaluate": ("bot.cli.evaluate:evaluate", "Predict any record of answers, beside plain methods."),
    "simulate": ("bot.cli.simulate:simulate", "Compare review policies on simulated classes."),
}


class LazyGroup(click.Group):
    """A click group whose commands are imported when they are asked for."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Name the commands in the order of the table."""
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Import one command."""
        if cmd_name not in COMMANDS:
            return None
        module, _, name = COMMANDS[cmd_name][0].partition(":")
        command: click.Command = getattr(import_module(module), name)
        return command

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """Find the command, or say which one was perhaps meant: click knows only those that are imported."""
        near = [] if args[0] in COMMANDS else get_close_matches(args[0].lower(), COMMANDS, 3)
        if near:
            ctx.fail(f"There is no command {args[0]!r}. Did you mean: {', '.join(near)}?")
        return super().resolve_command(ctx, args)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """List the commands without importing them."""
        with formatter.section("Commands"):
            formatter.write_dl([(name, text) for name, (_, text) in COMMANDS.items()])


def _version() -> str:
    from importlib.metadata import PackageNotFoundError, version  # a quarter of what `--help` takes

    try:
        return version("holdfast")
    except PackageNotFoundError:  # run from a checkout that was not installed
        return "unknown (not installed)"


def _print_version(ctx: click.Context, _option: click.Parameter, wanted: bool) -> None:
    if wanted:
        click.echo(f"holdfast {_version()}")
        ctx.exit()


@click.group(
    cls=LazyGroup, context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100}
)
@click.option(
    "--version",
    is_flag=True,
    is_eager=True,
    expose_value=False,
    callback=_print_version,
    help="Show the version and exit.",
)
def holdfast() -> None:
    """Keep what a class was taught: ask each student the right short question at the right moment.

    Example: holdfast demo

    Exit codes: 0 done; 1 it did not work, the reason is on stderr; 2 wrong usage; 3 a file has problems and
    nothing was stored; 70 a fault of the program; 78 the settings are wrong.
    """
