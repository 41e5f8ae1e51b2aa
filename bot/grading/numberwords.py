"""Numbers that are written as words, in English and German, up to a hundred, and the halves and thirds."""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import lru_cache


def _listed(words: str) -> list[str]:
    return words.split()


_ENGLISH = _listed(
    "zero one two three four five six seven eight nine ten eleven twelve thirteen fourteen fifteen sixteen "
    "seventeen eighteen nineteen twenty"
)
_GERMAN = _listed(
    "null eins zwei drei vier fünf sechs sieben acht neun zehn elf zwölf dreizehn vierzehn fünfzehn sechzehn "
    "siebzehn achtzehn neunzehn zwanzig"
)
_ENGLISH_TENS = _listed("twenty thirty forty fifty sixty seventy eighty ninety")
_GERMAN_TENS = _listed("zwanzig dreißig vierzig fünfzig sechzig siebzig achtzig neunzig")
_PARTS = {
    "half": "1/2", "one half": "1/2", "a half": "1/2", "halb": "1/2", "ein halb": "1/2", "einhalb": "1/2",
    "ein halbes": "1/2", "die hälfte": "1/2", "third": "1/3", "one third": "1/3", "a third": "1/3",
    "ein drittel": "1/3", "two thirds": "2/3", "zwei drittel": "2/3", "quarter": "1/4", "a quarter": "1/4",
    "one quarter": "1/4", "ein viertel": "1/4", "three quarters": "3/4", "drei viertel": "3/4",
    "dreiviertel": "3/4",
}  # fmt: skip


def _table() -> Iterator[tuple[str, str]]:
    for words in (_ENGLISH, _GERMAN):
        yield from ((word, str(number)) for number, word in enumerate(words))
    for number, (english, german) in enumerate(zip(_ENGLISH_TENS, _GERMAN_TENS, strict=True), 2):
        yield from ((english, str(10 * number)), (german, str(10 * number)))
        for ones in range(1, 10):
            both = _ENGLISH[ones]
            value = str(10 * number + ones)
            yield from ((f"{english}-{both}", value), (f"{english} {both}", value))
            yield f"{'ein' if ones == 1 else _GERMAN[ones]}und{german}", value
    yield from (("hundred", "100"), ("one hundred", "100"), ("a hundred", "100"))
    yield from (("hundert", "100"), ("einhundert", "100"), ("dreissig", "30"))
    yield from _PARTS.items()


@lru_cache(maxsize=1)
def _words() -> tuple[dict[str, str], re.Pattern[str]]:
    table = dict(_table())
    forms = "|".join(re.escape(word) for word in sorted(table, key=len, reverse=True))
    return table, re.compile(rf"^(minus )?({forms})(?![\w-])", re.IGNORECASE)


def in_figures(text: str) -> str:
    """Write the number word that a text begins with in figures; the text as it is where there is none.

    Examples
    --------
    >>> in_figures("eight electrons"), in_figures("einundzwanzig"), in_figures("minus forty"), in_figures("often")
    ('8 electrons', '21', '-40', 'often')
    """
    table, pattern = _words()
    found = pattern.match(text)
    if found is None:
        return text
    return f"{'-' if found[1] else ''}{table[found[2].casefold()]}{text[found.end() :]}"
