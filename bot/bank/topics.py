"""Finding the topics of the bank that a timetable's topic can mean."""

from __future__ import annotations

import re
import unicodedata
from functools import lru_cache

from bot.bank.reading import BankTopic, catalogue
from bot.grading.signs import MAX_CHARS


def topics_for(title: str) -> tuple[BankTopic, ...]:
    """Return the topics that a title can mean, the likeliest first.

    Parameters
    ----------
    title : str
        A topic as a timetable calls it, in English or German.

    Returns
    -------
    tuple of BankTopic
        One when the title is a name or alias; several when it mentions several, for the teacher to choose; none
        when nothing of the bank is meant.

    Examples
    --------
    >>> [topic.id for topic in topics_for("Ohmsches Gesetz")], [topic.id for topic in topics_for("U = R · I")]
    (['ohms-law'], ['ohms-law'])
    >>> [topic.id for topic in topics_for("Photosynthesis")]
    []
    """
    wanted = _words(title[:MAX_CHARS])
    if not wanted:
        return ()
    exact = [topic for name, topic in _names() if name == wanted]
    if exact:
        return _once(exact)
    # "Introduction to Ohm's law": the longest name mentioned says most.
    mentioned = [(len(name), topic) for name, topic in _names() if _holds(wanted, name)]
    return _once([topic for _, topic in sorted(mentioned, key=lambda pair: -pair[0])])


def _once(topics: list[BankTopic]) -> tuple[BankTopic, ...]:
    return tuple({topic.id: topic for topic in topics}.values())


@lru_cache(maxsize=1)
def _names() -> tuple[tuple[tuple[str, ...], BankTopic], ...]:
    return tuple(
        (_words(name), topic)
        for topic in catalogue().topics.values()
        for names in topic.names.values()
        for name in (topic.id.replace("-", " "), *names)
    )


def _words(text: str) -> tuple[str, ...]:
    """Words and formula letters in small letters; signs do not count, so that U = R·I is u r i."""
    plain = unicodedata.normalize("NFKD", text).casefold().replace("'s ", "s ").replace("’s ", "s ")
    plain = "".join(sign for sign in plain if not unicodedata.combining(sign)).replace("ß", "ss")
    return tuple(re.findall(r"[^\W_]+", plain))


def _holds(wanted: tuple[str, ...], name: tuple[str, ...]) -> bool:
    """Whether a name of real words stands in the title as a run."""
    if all(len(word) < 3 for word in name):
        return False
    return any(wanted[at : at + len(name)] == name for at in range(len(wanted) - len(name) + 1))
