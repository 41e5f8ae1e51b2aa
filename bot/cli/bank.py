"""Ready-made questions of our own bank, added from the command line."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import click

from bot.cli.common import class_option, named_class, open_database
from bot.cli.outcome import CommandFailed
from bot.clock import WallClock
from storage.base.rows import id_of

if TYPE_CHECKING:
    from bot.service.teacher.bank import TopicOffer


@click.command()
@class_option
@click.option("--topics", metavar="NAMES", help="Only these topics of the class, with ; between them.")
@click.option(
    "--language",
    type=click.Choice(["en", "de"]),
    help="Language of the questions; without it that of the class.",
)
@click.option("--list", "only_list", is_flag=True, help="Only show what there is.")
def bank(slug: str, topics: str | None, language: str | None, only_list: bool) -> None:
    """Add ready-made questions with drawn values on the topics of a class.

    Example: holdfast bank --class 10b-physics --topics "Speed; Density"

    What the class has already is left out. The teacher can take it back in the chat with: undo.
    """
    from bot.service.asking import planning
    from bot.service.teacher.bank import offers, take
    from bot.service.teacher.question_rows import language_of
    from bot.service.teacher.work import kept_as, label_of
    from bot.words import words
    from storage.school import uploads
    from storage.school.change_journal import Journal
    from storage.tables import UploadKind

    now = WallClock().now()
    with open_database() as db, db.begin() as session:
        school_class = named_class(session, slug)
        chosen = language_of(language or school_class.language or "", "en")
        found = _wanted(offers(session, school_class, chosen, now), topics)
        for offer in found:
            click.echo(f"{offer.topic}: {len(offer.entries)} questions")
        if only_list:
            return
        journal, class_id = Journal(session), id_of(school_class)
        added = take(journal, class_id, found, chosen, now)
        kept = kept_as("bank", found[0].topic)
        label = label_of(words(school_class.language or "en"), kept)
        uploads.record(journal, class_id, UploadKind.QUESTIONS, label, now, kept=kept)
        planning.look_soon(session, class_id, now)
    click.echo(f"Added {added} questions. All plans follow.", err=True)


def _wanted(found: Sequence[TopicOffer], topics: str | None) -> Sequence[TopicOffer]:
    """Choose the topics that were named; each must be one that the bank has something for."""
    from storage.school.questions import folded

    if not found:
        raise CommandFailed("The bank has nothing more for the topics of this class.")
    if topics is None:
        return found
    by_name = {folded(offer.topic): offer for offer in found}
    names = [name.strip() for name in topics.split(";") if name.strip()]
    unknown = [name for name in names if folded(name) not in by_name]
    if unknown or not names:
        offered = "; ".join(offer.topic for offer in found)
        raise CommandFailed(f'The bank has nothing more for "{"; ".join(unknown)}". It has for: {offered}')
    return [by_name[folded(name)] for name in dict.fromkeys(names)]
