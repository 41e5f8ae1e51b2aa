"""For translators: ``python -m bot.words update`` after a change of the English, ``python -m bot.words new fr``.

`update` brings every other language up to date: new texts stand there empty, changed ones are marked ``fuzzy`` and are
shown in English until somebody has looked at them, what is gone is left out.
"""

from __future__ import annotations

import argparse
import io
import sys
from pathlib import Path

from babel import Locale
from babel.messages.catalog import Catalog
from babel.messages.pofile import write_po
from babel.plural import to_gettext

from bot.words.catalogue import HERE, SOURCE, catalogues, messages, read

_HEADER = """msgid ""
msgstr ""
"Language: {language}\\n"
"MIME-Version: 1.0\\n"
"Content-Type: text/plain; charset=utf-8\\n"
"Content-Transfer-Encoding: 8bit\\n"
"Plural-Forms: {forms}\\n"

"""


def main() -> None:
    """Read the command line and do what it says."""
    parser = argparse.ArgumentParser(prog="python -m bot.words", description=__doc__)
    commands = parser.add_subparsers(dest="command", required=True)
    commands.add_parser("update", help="bring every language up to date with the English")
    commands.add_parser("new", help="begin a language").add_argument(
        "language", help="its tag, for example fr"
    )
    given = parser.parse_args()
    if given.command == "new":
        update(given.language)
        sys.stdout.write(
            f'Fill in {HERE / given.language}, then add "{given.language}" to LANGUAGES in bot/words.\n'
        )
        return
    for folder in sorted(path.name for path in HERE.iterdir() if any(path.glob("*.po"))):
        update(folder)


def update(language: str) -> None:
    """Write the catalogues of a language anew, with the texts that English has now."""
    wanted = set()
    for source in catalogues(SOURCE):
        path = (HERE / language / source.relative_to(HERE / SOURCE)).with_suffix(".po")
        wanted.add(path)
        _write(_updated(read(source), path, language), language, path)
    for path in set(catalogues(language)) - wanted:
        path.unlink()


def _updated(template: Catalog, path: Path, language: str) -> Catalog:
    # By key, not by likeness of the English: Babel's own update would take a text from another place.
    known = {message.context: message for message in messages(read(path))} if path.exists() else {}
    catalog = Catalog(locale=language)
    catalog.mime_headers = [("Plural-Forms", _plural_forms(language))]
    for message in messages(template):
        counts = isinstance(message.id, tuple)
        string: str | tuple[str, ...] = ("",) * catalog.num_plurals if counts else ""
        flags = set(message.flags)
        old = known.get(message.context)
        if old is not None and old.string and isinstance(old.string, str) != counts:
            string = old.string if isinstance(old.string, str) else tuple(old.string)
            if old.fuzzy or old.id != message.id:
                flags.add("fuzzy")
        catalog.add(message.id, string, (), flags, message.auto_comments, context=message.context)
    return catalog


def _write(catalog: Catalog, language: str, path: Path) -> None:
    # The header has no dates, so that files differ by their texts only.
    text = io.BytesIO()
    write_po(text, catalog, width=110, omit_header=True)
    path.parent.mkdir(parents=True, exist_ok=True)
    header = _HEADER.format(language=language, forms=_plural_forms(language))
    path.write_text(header + text.getvalue().decode(), encoding="utf-8")


def _plural_forms(language: str) -> str:
    """Return the header of that name, from CLDR, so that the forms are those of :func:`categories`."""
    return to_gettext(Locale.parse(language).plural_form)


if __name__ == "__main__":
    main()
