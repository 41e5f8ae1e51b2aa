"""The catalogues: all wording, in the format that translators' tools read (GNU gettext).

English stands in ``en/*.pot``: a text's key is its context (``msgctxt``), the English itself the ``msgid``. Every other
language has a file ``LANGUAGE/*.po`` for each, with the same keys and its own words as ``msgstr``. The English stands
there again, so that a translator sees it and a changed text is known to be out of date.

Plural forms stand in the order of the categories of Unicode CLDR (zero, one, two, few, many, other), those that the
language has.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from pathlib import Path

from babel import Locale
from babel.messages.catalog import Catalog, Message
from babel.messages.pofile import read_po

SOURCE = "en"
"""The language that the texts are written in first."""

Template = str | Mapping[str, str]
"""A text, or where it counts, a text for each plural category."""

HERE = Path(__file__).parent

_CATEGORIES = ("zero", "one", "two", "few", "many", "other")


def texts(language: str) -> dict[str, Template]:
    """Return the texts of a language by key, without those that wait for a translation.

    Parameters
    ----------
    language : str
        Name of a folder beside this file.

    Returns
    -------
    dict of str to (str or mapping of str to str)

    Raises
    ------
    FileNotFoundError
        There are no catalogues of that language.
    """
    found: dict[str, Template] = {}
    for path in catalogues(language):
        for message in messages(read(path)):
            said = message.id if language == SOURCE else message.string
            if message.fuzzy or not said or not all(said):
                continue
            counted = (
                dict(zip(categories(language), said, strict=True)) if not isinstance(said, str) else None
            )
            found[str(message.context)] = counted or str(said)
    if not found:
        raise FileNotFoundError(f'There are no texts of the language "{language}" in {HERE}.')
    return found


def catalogues(language: str) -> list[Path]:
    """Return the files of a language, sorted by name."""
    return sorted((HERE / language).rglob("*.pot" if language == SOURCE else "*.po"))


def read(path: Path) -> Catalog:
    """Read one file."""
    with path.open("rb") as file:
        return read_po(file, abort_invalid=True)


def messages(catalog: Catalog) -> Iterator[Message]:
    """Return the texts of a file; its header, which has no key, is none."""
    return (message for message in catalog if message.context is not None)


def categories(language: str) -> list[str]:
    """Return the plural categories of a language in the order of its catalogues.

    Examples
    --------
    >>> categories("de"), categories("uk")
    (['one', 'other'], ['one', 'few', 'many', 'other'])
    """
    tags = {*Locale.parse(language).plural_form.tags, "other"}
    return [category for category in _CATEGORIES if category in tags]
