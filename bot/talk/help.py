"""Help and the command menu, from the one table of commands: what a role cannot do is not listed."""

from __future__ import annotations

from bot.chat.port import MenuEntry
from bot.talk.commands import COMMANDS, Command
from bot.talk.facts import Facts
from bot.words import LANGUAGES, Words, words
from bot.words.rich import Rich

UNLISTED = frozenset({"start", "help"})


def usable(facts: Facts, conversation: str = "") -> tuple[Command, ...]:
    """Return the commands that the speaker may use, of one conversation if named, each word once."""
    found: dict[str, Command] = {}
    for command in COMMANDS:
        fits = command.roles & facts.roles and conversation in ("", command.conversation)
        if command.conversation == "account" and facts.person_id is None:
            continue  # nothing is stored that could be handed out or erased
        if fits and command.word not in UNLISTED:
            found.setdefault(command.word, command)
    return tuple(found.values())


def help_text(facts: Facts, conversation: str) -> Rich:
    """Return the help of a conversation: one line for each command, and how to type them."""
    return facts.words.say(f"{conversation}.help") + _lines(facts, conversation)


def own_words(facts: Facts) -> Rich:
    """Return the lines of the commands that everybody has who is stored here."""
    return _lines(facts, "account")


def _lines(facts: Facts, conversation: str) -> Rich:
    text = Rich()
    for command in usable(facts, conversation):
        text = (
            text
            + Rich.of("\n")
            + Rich.of(command.word, strong=True)
            + Rich.of("  ")
            + described(command, facts)
        )
    return text


def described(command: Command, facts: Facts) -> Rich:
    """Return the one-line description of a command."""
    return facts.words.say(f"command.{command.word}")


def newcomers_menus(default: str) -> dict[str, tuple[MenuEntry, ...]]:
    """Return the menu of somebody who is not known yet, by the language of their platform.

    Under the empty tag stands that of the school's own language, for all others.
    """
    by_language = {tag: _newcomers_menu(words(tag)) for tag in LANGUAGES}
    return {"": _newcomers_menu(words(default)), **by_language}


def _newcomers_menu(said: Words) -> tuple[MenuEntry, ...]:
    return tuple(MenuEntry(word, said.text(f"command.{word}")) for word in ("join", "help"))


def menu(facts: Facts) -> tuple[MenuEntry, ...]:
    """Return the commands that a platform shows in its menu."""
    return tuple(MenuEntry(command.word, described(command, facts).plain) for command in usable(facts))
