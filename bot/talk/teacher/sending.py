"""Files that a teacher sends: recognised, previewed, applied, taken back.

Nothing is stored in the class before the teacher says so. A second file of the same kind becomes a difference
to what the class has.
"""

from __future__ import annotations

import re
import zlib
from collections.abc import Mapping, Sequence
from datetime import date

from bot.chat.port import Button, FileSent, Incoming, Message
from bot.talk.core import State, Step, once, reply
from bot.talk.facts import Facts
from bot.talk.teacher import asking, bank
from bot.talk.teacher.common import (
    Pressed,
    Typed,
    answer,
    at_home,
    class_of,
    do,
    foreign,
    labelled,
    lines,
    message,
    no_class,
    number,
    of_class,
    press,
    rows_of,
    with_class,
)
from bot.talk.teacher.dosing import timetable_dose
from bot.talk.teacher.effects import (
    ChangesShown,
    DropUpload,
    FileFailed,
    FileRead,
    FileUnknown,
    ListLine,
    Preview,
    ReadFile,
    Reread,
    ShowChanges,
    Undo,
    Undone,
    UploadApplied,
    UseUpload,
)
from bot.talk.teacher_facts import TeachingFacts
from bot.words.rich import Rich

LARGEST_BYTES = 20 * 1024 * 1024
"""What chat applications let a bot fetch (Telegram: 20 MB)."""

KINDS = ("timetable", "questions", "roster", "scores")

_WORDS = {
    "timetable": r"time\s?table|lessons?|plan|calendar|schedule|stundenplan|stunden|kalender",
    "questions": r"questions?|checks?|self-?checks?|fragen?",
    "roster": r"roster|class\s?list|students?|names|register|klassenliste|namen|schüler",
    "scores": r"scores?|marks?|results?|grades?|punkte|ergebnisse?|noten",
}
# Between letters of a file name stand underscores and digits: \b would not see a word's end there.
_NAMED = {
    kind: re.compile(rf"(?<![a-z])(?:{words})(?![a-z])", re.IGNORECASE) for kind, words in _WORDS.items()
}


def kind_in(text: str) -> str:
    """Return the one kind of file that a caption or a file name speaks of; empty when none or several.

    Examples
    --------
    >>> kind_in("physics_questions_2.xlsx"), kind_in("class list 10B"), kind_in("export.csv")
    ('questions', 'roster', '')
    """
    found = [kind for kind, words in _NAMED.items() if words.search(text)]
    return found[0] if len(found) == 1 else ""


def received(event: Incoming, sent: FileSent, state: State, facts: Facts) -> Step:
    """Take a document or a picture that was sent."""
    if facts.teaching is None:
        return no_class(facts, state)
    if sent.size_bytes > LARGEST_BYTES:
        return answer(facts, state, "file_too_large", name=sent.name, mb=LARGEST_BYTES // 1024 // 1024)
    if sent.media_type.startswith("image/"):
        return asking.pictured(sent, state, facts, facts.teaching)
    key = f"file:{zlib.crc32(sent.handle.encode()):08x}"
    effect = ReadFile(
        facts.teaching.class_id,
        sent.handle,
        sent.name,
        sent.media_type,
        kind_in(sent.caption) or kind_in(sent.name),
        key,
    )
    said = message(facts, "reading", name=sent.name or "file", key=key)
    return Step(at_home(facts, state), (effect,), reply(said))


# ---------------------------------------------------------------- what was read


def read(result: FileRead, state: State, facts: Facts) -> Step:
    """Show what a file holds and what is wrong with it."""
    preview = result.preview
    said = Message(
        _opening(preview, facts)
        + _drawn(preview, facts)
        + _trouble(preview, facts)
        + _ending(preview, facts),
        _preview_buttons(preview, facts),
        key=once("upload", preview.upload_id),
        replaces=result.key,
    )
    return Step(at_home(facts, state), (), reply(said))


def _opening(preview: Preview, facts: Facts) -> Rich:
    counted = [facts.words.text(f"teacher.count.{name}", n=n) for name, n in preview.counts.items() if n]
    listed = facts.words.listed(counted)
    said = facts.words.say("teacher.preview", n=preview.rows_read, name=preview.name)
    return said + (Rich.of(f": {listed}.") if listed else Rich.of("."))


def _drawn(preview: Preview, facts: Facts) -> Rich:
    """Show questions with drawn values as students may get them, and count the missing explanations."""
    said = Rich()
    if preview.examples:
        said += Rich.of("\n") + facts.words.say("drawn.examples") + Rich.of("\n")
        said += lines(facts, preview.examples)
    if preview.unexplained:
        said += Rich.of("\n") + facts.words.say("drawn.unexplained", n=preview.unexplained)
    return said


def _trouble(preview: Preview, facts: Facts) -> Rich:
    said = _problems(preview, facts)
    if preview.unmatched:
        said += Rich.of("\n") + facts.words.say("teacher.left_out") + Rich.of("\n")
        said += lines(facts, written(preview.unmatched, facts))
    return said


def _problems(preview: Preview, facts: Facts) -> Rich:
    if not preview.problems:
        return Rich()
    title = (
        facts.words.say("teacher.rows_need_you", n=preview.rows_with_problems)
        if preview.rows_with_problems
        else facts.words.say("teacher.remarks")
    )
    return Rich.of("\n") + title + Rich.of("\n") + lines(facts, preview.problems)


def _ending(preview: Preview, facts: Facts) -> Rich:
    if not preview.usable and preview.options:
        return Rich.of("\n") + facts.words.say("teacher.decide_first")
    if not preview.usable:
        return Rich.of("\n") + facts.words.say("teacher.nothing_usable")
    if preview.quizzes:
        return Rich.of("\n") + facts.words.say("teacher.which_quiz")
    if preview.changes is not None and not any(preview.changes.values()):
        text = "teacher.rest_not_new" if preview.rows_with_problems else "teacher.nothing_new"
        return Rich.of("\n") + facts.words.say(text)
    said = Rich()
    if preview.changes is not None:
        said = Rich.of("\n") + facts.words.say("teacher.compared", changes=_changes(preview.changes, facts))
    return said + Rich.of("\n") + facts.words.say("teacher.not_stored")


def written(texts: Sequence[ListLine], facts: Facts) -> list[str]:
    """Write lines in the teacher's language, days as people say them."""
    return [
        facts.words.text(
            f"teacher.line.{one.key}",
            **{
                name: facts.words.day(value) if isinstance(value, date) else value
                for name, value in one.values.items()
            },
        )
        for one in texts
    ]


def _changes(changes: Mapping[str, int], facts: Facts) -> str:
    said = [facts.words.text(f"teacher.change.{name}", n=n) for name, n in changes.items() if n]
    if "dropped" in changes and not changes["dropped"]:
        said.append(facts.words.text("teacher.nothing_dropped"))
    return facts.words.listed(said)


def _preview_buttons(preview: Preview, facts: Facts) -> tuple[tuple[Button, ...], ...]:
    teaching = facts.teaching
    here = (teaching.class_id if teaching else 0, preview.upload_id)
    rows: list[tuple[Button, ...]] = []
    if preview.options:
        choices = [
            labelled(label, "settle", *here, about, chosen) for label, about, chosen in preview.options
        ]
        rows += [tuple(row) for row in rows_of(choices)]
    rows += [(labelled(label, "ofquiz", *here, quiz),) for quiz, label in preview.quizzes]
    new = preview.changes is None or any(preview.changes.values())
    if preview.usable and new and not preview.quizzes:
        rows.append(_use_buttons(preview, facts, here))
    rows.append((press(facts, "cancel", "drop", *here),))
    return tuple(rows)


def _use_buttons(preview: Preview, facts: Facts, here: tuple[int, int]) -> tuple[Button, ...]:
    if preview.rows_with_problems:
        use = press(facts, "use_rest", "use", *here, n=preview.good_rows)
    else:
        use = press(facts, "apply" if preview.changes is not None else "use_all", "use", *here)
    return (use, press(facts, "show_me", "changes", *here)) if preview.lines else (use,)


def unknown(result: FileUnknown, state: State, facts: Facts) -> Step:
    """Ask what a file is."""
    here = (facts.teaching.class_id if facts.teaching else 0, result.upload_id)
    buttons = [press(facts, f"kind.{kind}", "kind", *here, kind) for kind in KINDS]
    said = message(
        facts,
        "file_unknown",
        [*rows_of(buttons), [press(facts, "cancel", "drop", *here)]],
        name=result.name,
        key=once("upload", result.upload_id),
        replaces=result.key,
    )
    return Step(at_home(facts, state), (), reply(said))


def failed(result: FileFailed, state: State, facts: Facts) -> Step:
    """Say why a file could not be read."""
    said = facts.words.say("teacher.file_failed", name=result.name) + Rich.of("\n") + lines(facts, result.why)
    return Step(at_home(facts, state), (), reply(Message(said, replaces=result.key)))


# ---------------------------------------------------------------- what is pressed


def _upload(args: Sequence[str]) -> int | None:
    return number(args[0]) if args else None


def use(args: Sequence[str], state: State, facts: Facts, teaching: TeachingFacts) -> Step:
    """Apply what was read."""
    upload = _upload(args)
    return foreign(facts, state) if upload is None else do(facts, state, UseUpload(upload))


def drop(args: Sequence[str], state: State, facts: Facts, teaching: TeachingFacts) -> Step:
    """Forget what was read."""
    upload = _upload(args)
    return foreign(facts, state) if upload is None else do(facts, state, DropUpload(upload))


def changes(args: Sequence[str], state: State, facts: Facts, teaching: TeachingFacts) -> Step:
    """Show the difference line by line."""
    upload = _upload(args)
    return foreign(facts, state) if upload is None else do(facts, state, ShowChanges(upload))


def settle(args: Sequence[str], state: State, facts: Facts, teaching: TeachingFacts) -> Step:
    """Read the file again, with a doubt settled."""
    upload = _upload(args)
    if upload is None or len(args) < 3:
        return foreign(facts, state)
    return do(facts, state, Reread(upload, choice=(args[1], args[2])))


def of_quiz(args: Sequence[str], state: State, facts: Facts, teaching: TeachingFacts) -> Step:
    """Read the scores again, for one quiz."""
    upload = _upload(args)
    quiz = number(args[1]) if len(args) > 1 else None
    if upload is None or quiz is None:
        return foreign(facts, state)
    return do(facts, state, Reread(upload, quiz_id=quiz))


def two(args: Sequence[str], state: State, facts: Facts, teaching: TeachingFacts) -> Step:
    """Compare again: what looked like renamed topics are two."""
    upload = _upload(args)
    return foreign(facts, state) if upload is None else do(facts, state, Reread(upload, not_renamed=True))


def kind(args: Sequence[str], state: State, facts: Facts, teaching: TeachingFacts) -> Step:
    """Read the file again, as what the teacher says it is."""
    upload = _upload(args)
    if upload is None or len(args) < 2 or args[1] not in KINDS:
        return foreign(facts, state)
    return do(facts, state, Reread(upload, kind=args[1]))


def applied(result: UploadApplied, state: State, facts: Facts) -> Step:
    """Say what is in force now."""
    counted = [facts.words.text(f"teacher.applied.{name}", n=n) for name, n in result.counts.items() if n]
    said = facts.words.say(
        "teacher.applied" if counted else "teacher.applied_nothing",
        name=result.name,
        counts=facts.words.listed(counted),
    )
    if result.kind in ("timetable", "questions"):
        said += Rich.of(" ") + facts.words.say("teacher.reviews_follow")
    if result.without_questions:
        said += Rich.of("\n") + facts.words.say("teacher.without_questions", n=result.without_questions)
    buttons: tuple[tuple[Button, ...], ...] = ()
    if result.in_bank:
        hint, buttons = bank.hint(result.class_id, result.in_bank, facts)
        said += Rich.of("\n") + hint
    if result.dose is None:
        return Step(at_home(facts, state), (), reply(Message(said, buttons)))
    needs, choice = timetable_dose(result.dose, facts)
    return Step(at_home(facts, state), (), reply(Message(said, buttons), Message(needs, choice)))


def changes_shown(result: ChangesShown, state: State, facts: Facts) -> Step:
    """List the difference."""
    here = (facts.teaching.class_id if facts.teaching else 0, result.upload_id)
    buttons = [[press(facts, "apply", "use", *here), press(facts, "cancel", "drop", *here)]]
    if result.doubtful:
        buttons.insert(0, [press(facts, "two_topics", "two", *here)])
    shown = lines(facts, written(result.lines, facts), most=40)
    title = "changes" if result.kind == "timetable" else "contents"
    asked = once("upload", result.upload_id)
    return answer(facts, at_home(facts, state), title, buttons, list=shown, key=asked)


# ---------------------------------------------------------------- words


def undo(rest: str, state: State, facts: Facts, teaching: TeachingFacts) -> Step:
    """Take back what was applied last."""
    return do(facts, state, Undo(teaching.class_id))


def undone(result: Undone, state: State, facts: Facts) -> Step:
    """Say what was taken back."""
    if result.name is None:
        return answer(facts, at_home(facts, state), "nothing_to_undo")
    return answer(facts, at_home(facts, state), "undone", name=result.name)


def upload_help(rest: str, state: State, facts: Facts, teaching: TeachingFacts) -> Step:
    """Say which files can be sent and what they may hold."""
    school_class = class_of(facts, teaching.class_id)
    return answer(facts, at_home(facts, state), "upload_help", name=school_class.name if school_class else "")


COMMANDS: Mapping[str, Typed] = {"undo": with_class(undo), "upload": with_class(upload_help)}
BUTTONS: Mapping[str, Pressed] = {
    "use": of_class(use),
    "drop": of_class(drop),
    "changes": of_class(changes),
    "settle": of_class(settle),
    "ofquiz": of_class(of_quiz),
    "kind": of_class(kind),
    "two": of_class(two),
}
