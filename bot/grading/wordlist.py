"""Whether a word is one of everyday English or German: then it is no slip of another one.

The lists are those of the library pyspellchecker (MIT licence; English 160,000 and German 339,000 words with their
inflections). Its own reader would hold half a million entries, some 100 MB, and need two seconds; the files have one
word a line, so they are searched as they are: 10 MB, read when the first doubtful spelling comes, and a few
milliseconds for a word.
"""

from __future__ import annotations

import gzip
import json
from functools import lru_cache
from importlib.resources import files

LANGUAGES = ("en", "de")


@lru_cache(maxsize=len(LANGUAGES))
def _text(language: str) -> bytes:
    packed = files("spellchecker").joinpath("resources", f"{language}.json.gz").read_bytes()
    return gzip.decompress(packed)


@lru_cache(maxsize=8192)
def is_word(word: str, language: str = "") -> bool:
    """Whether a word in small letters stands in the list of a language; of any where none is named.

    Examples
    --------
    >>> is_word("fraction"), is_word("reifung"), is_word("frction"), is_word("reifung", "en")
    (True, True, False, False)
    """
    entry = f"\n{json.dumps(word, ensure_ascii=False)}:".encode()
    return any(entry in _text(one) for one in ((language,) if language else LANGUAGES))
