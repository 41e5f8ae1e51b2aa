"""Two spellings of one word: the plural, an inflection, British and American, umlauts written out.

What is the same word here may be a word of its own in a list and is right all the same: "aluminum" for aluminium,
"frictions" for friction.
"""

from __future__ import annotations

import re

from bot.grading.wordlist import is_word

# Doubled consonants and single pairs (from memory, common practice).
_PAIRS = """
aluminium/aluminum gray/grey mould/mold modelling/modeling modelled/modeled labelling/labeling labelled/labeled
travelling/traveling cancelled/canceled fuelled/fueled signalling/signaling levelled/leveled gramme/gram
programme/program plough/plow draught/draft storey/story tyre/tire defence/defense licence/license
"""
_SAME = frozenset(frozenset(pair.split("/")) for pair in _PAIRS.split())
_RULES = tuple(
    (re.compile(pattern), one)
    for pattern, one in (
        ("ß", "ss"), ("ä|æ", "ae"), ("ö|œ", "oe"), ("ü", "ue"), ("ph", "f"), ("is(?=e|ing|ation)", "iz"),
        ("yse", "yze"), ("(?<=\\w{2})our(?=$|s$|ed$|ing$|less$|ful$)", "or"), ("(?<=[^aeiou])re(?=s?$)", "er"),
    )
)  # fmt: skip
_UMLAUT = re.compile("[äöü]")
_ENGLISH_ENDINGS = frozenset({"", "s", "es", "d", "ed"})
_GERMAN_ENDINGS = frozenset({"", "e", "n", "en", "er", "em", "es", "s"})
# Nouns whose plural is regular: -en behind these endings and no others ("Kondensatoren", not "harden").
_GERMAN_PLURAL = re.compile(r".{3,}(?:or|ion|tät|heit|keit|ung|schaft|enz)en$")
_SHORTEST_STEM = 4


def is_plural(given: str, answer: str) -> bool:
    """Whether one is the regular plural of the other.

    Examples
    --------
    >>> is_plural("velocities", "velocity"), is_plural("Kondensatoren".lower(), "kondensator")
    (True, True)
    >>> is_plural("harden", "hard"), is_plural("mas", "mass")
    (False, False)
    """
    short, long = sorted((given, answer), key=len)
    if len(short) < _SHORTEST_STEM or short.endswith("s"):
        return False
    if short.endswith("y") and long == f"{short[:-1]}ies":
        return True
    return long in (f"{short}s", f"{short}es") or (long == f"{short}en" and bool(_GERMAN_PLURAL.match(long)))


def is_same_word(given: str, answer: str) -> bool:
    """Whether both are one word, in two spellings or inflections.

    Examples
    --------
    >>> is_same_word("colour", "color"), is_same_word("metre", "meter"), is_same_word("reduced", "reduces")
    (True, True, True)
    >>> is_same_word("fraction", "friction"), is_same_word("breathe", "breath")
    (False, False)
    """
    return is_variant(given, answer) or is_plural(given, answer) or _inflected(given, answer)


def is_variant(given: str, answer: str) -> bool:
    """Whether both are one word, spelled by two customs.

    Examples
    --------
    >>> is_variant("sulphur", "sulfur"), is_variant("traegheit", "trägheit"), is_variant("hemoglobin", "haemoglobin")
    (True, True, True)
    >>> is_variant("wälle", "welle"), is_variant("for", "four")
    (False, False)
    """
    if frozenset((given, answer)) in _SAME:
        return True
    first, second = _plain(given), _plain(answer)
    # "Wälle" is no spelling of "Welle".
    british = not _UMLAUT.search(given + answer)
    return first == second or (british and _american(first) == _american(second))


def _plain(word: str) -> str:
    for pattern, one in _RULES:
        word = pattern.sub(one, word)
    return word


def _american(word: str) -> str:
    return word.replace("ae", "e").replace("oe", "e")


def _inflected(given: str, answer: str) -> bool:
    """Whether both have a stem of at least five letters in common and endings of one language."""
    for length in range(min(len(given), len(answer)), _SHORTEST_STEM, -1):
        if given[:length] != answer[:length]:
            continue
        endings = {given[length:], answer[length:]}
        if endings <= _ENGLISH_ENDINGS:
            return True
        # "breath" and "breathe" are two words of English, "elastisch" and "elastische" one of German.
        if endings <= _GERMAN_ENDINGS and not (is_word(given, "en") and is_word(answer, "en")):
            return True
    return False
