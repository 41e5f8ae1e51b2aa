"""How a command ends: exit codes that scripts can use, and errors as sentences on stderr."""

from __future__ import annotations

import errno
import os
import secrets
import sys
import traceback

import click

FAILED = 1
USAGE = 2
PROBLEMS = 3
FAULT = 70
SETTINGS = 78  # EX_CONFIG of sysexits.h, by which systemd knows it too


class CommandFailed(Exception):
    """A command did not work. The text says what is wrong, where, and what to do."""

    def __init__(self, message: str, code: int = FAILED) -> None:
        super().__init__(message)
        self.code = code


def guarded(command: click.Command) -> int:
    """Run a click command and turn whatever ends it into an exit code."""
    try:
        code = command.main(standalone_mode=False, prog_name="holdfast")
    except click.exceptions.Exit as ended:
        return ended.exit_code
    except click.ClickException as error:
        error.show(sys.stderr)
        return error.exit_code
    except click.Abort:
        click.echo("Stopped. Nothing was left half-written.", err=True)
        return 130
    except CommandFailed as error:
        click.echo(str(error), err=True)
        return error.code
    except Exception as error:
        return _fault(error)
    return code if isinstance(code, int) else 0


def _fault(error: Exception) -> int:
    """Name a foreseen error; give an unforeseen one a reference, its traceback only when asked for."""
    if isinstance(error, OSError) and error.errno is not None:
        click.echo(_in_words(error), err=True)
        return FAILED
    if isinstance(error, UnicodeEncodeError) and error.reason == "surrogates not allowed":
        click.echo(
            "An argument or a setting holds bytes that are no text (in UTF-8), so nothing was done with it. Type it "
            "again, or copy it from where it is shown correctly.",
            err=True,
        )
        return FAILED
    if _foreseen(error):
        click.echo(_said(error), err=True)
        return FAILED
    if type(error).__name__ == "OperationalError":  # of the database's driver, by name for the same reason
        click.echo(f"The database did not do it: {_reason(error)}. See: holdfast doctor", err=True)
        return FAILED
    ref = secrets.token_hex(2).upper()
    click.echo(
        f"That did not work: a fault of the program ({type(error).__name__}, ref {ref}). "
        "Set HOLDFAST_TRACEBACK=1 and run it again to see where.",
        err=True,
    )
    if os.environ.get("HOLDFAST_TRACEBACK"):
        traceback.print_exception(error, file=sys.stderr)
    return FAULT


_WHY = {
    errno.EACCES: "this user may not do that. Run the command as the user who owns it, or give this user the right",
    errno.EPERM: "this user may not do that. Run the command as the user who owns it, or give this user the right",
    errno.ENOENT: "there is no such file or folder. Is the path right",
    errno.EISDIR: "it is a folder. Name a file",
    errno.ENOTDIR: "a part of the path is a file, not a folder. Is the path right",
    errno.EEXIST: "it is already there and was left as it is. Name another",
    errno.ENOSPC: "no space is left on the disk. Free some and run it again",
    errno.EROFS: "that part of the disk can only be read. Name a place that can be written to",
    errno.ENAMETOOLONG: "the name is too long. Name a shorter one",
}
"""What the system's reasons mean and what to do, without the full stop or question mark."""


def _in_words(error: OSError) -> str:
    """Say what could not be read or written, why, and what to do."""
    why = _WHY.get(error.errno or 0, (error.strerror or type(error).__name__).rstrip("."))
    name = error.filename
    if isinstance(name, bytes):
        name = os.fsdecode(name)
    what = f"{name}: " if name is not None else ""
    sentence = what + (why if what else why[:1].upper() + why[1:])
    return f"{sentence}?" if why.endswith("Is the path right") else f"{sentence}."


def _reason(error: Exception) -> str:
    """Return the driver's own first line: the rest would quote the statement and what was to be stored."""
    return str(getattr(error, "orig", None) or type(error).__name__).strip().partition("\n")[0].rstrip(".")


def _said(error: Exception) -> str:
    """Return the words of a foreseen error; a refusal of the storage is a code until somebody words it."""
    if not getattr(error, "code", ""):
        return str(error)
    from bot.words import words
    from bot.words.problems import why
    from storage.base.errors import StorageError

    return why(error, words("en")) if isinstance(error, StorageError) else str(error)


def _foreseen(error: Exception) -> bool:
    """Our own errors speak for themselves; they are looked up by name so that nothing heavy is imported here."""
    module = type(error).__module__.partition(".")[0]
    return isinstance(error, OSError) or module in {"bot", "storage", "scheduler"}
