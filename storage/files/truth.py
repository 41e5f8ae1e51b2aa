"""Answers that are true or false, yes or no: such a question has two options, and the sheet names only one."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from storage.files.folding import fold

CLEAR = (
    ("true", "false"), ("wahr", "falsch"), ("richtig", "falsch"), ("vrai", "faux"), ("verdadero", "falso"),
    ("vero", "falso"), ("waar", "onwaar"),
)  # fmt: skip
OTHERS = (
    ("yes", "no"), ("ja", "nein"), ("oui", "non"), ("sí", "no"), ("sì", "no"), ("ja", "nee"), ("right", "wrong"),
    ("correct", "incorrect"),
)  # fmt: skip
"""What such answers are called (common practice, no source). `OTHERS` are words of which one may be an answer of its
own ("NO" is a gas, "right" a side): they count where the sheet has both, or calls the row true or false."""

_LETTERS = {
    "t": ("True", "False"),
    "f": ("False", "True"),
    "w": ("Wahr", "Falsch"),
    "r": ("Richtig", "Falsch"),
}


def opposite(answer: str, others: Iterable[str] = (), *, named: bool = False) -> str | None:
    """Return the other option of a question whose answer is true or false, in the same capitals; None for others.

    Parameters
    ----------
    answer : str
        What stands in the answer column.
    others : iterable of str
        What stands there in the other rows: they show which words the sheet uses.
    named : bool
        Whether the sheet calls the row true or false.

    Examples
    --------
    >>> opposite("True"), opposite("falsch", ["richtig"]), opposite("NO"), opposite("no", ["yes"])
    ('False', 'richtig', None, 'yes')
    """
    word, used = fold(answer), {fold(one) for one in others}
    pairs = [pair for pair in (*CLEAR, *OTHERS) if word in map(fold, pair)]
    shown = [pair for pair in pairs if _other(pair, word) in used]
    allowed = shown or [pair for pair in pairs if named or pair in CLEAR]
    if not allowed:
        return None
    first, second = allowed[0]
    other = second if word == fold(first) else first
    return other.upper() if answer.isupper() else other.capitalize() if answer[:1].isupper() else other


def _other(pair: tuple[str, str], word: str) -> str:
    first, second = map(fold, pair)
    return second if word == first else first


def by_letter(answer: str) -> tuple[str, str] | None:
    """Return the right and the wrong option that a letter stands for, where the sheet calls the row true or false.

    >>> by_letter("F"), by_letter("x")
    (('False', 'True'), None)
    """
    return _LETTERS.get(fold(answer))


def is_true_or_false(options: Iterable[str]) -> bool:
    """Whether the options of a choice are such a pair.

    >>> is_true_or_false(["Wahr", "falsch"]), is_true_or_false(["true", "newton"])
    (True, False)
    """
    found = {fold(one) for one in options}
    return len(found) == 2 and any(found == set(map(fold, pair)) for pair in (*CLEAR, *OTHERS))


_SPOKEN = {"de": (("true", "wahr"), ("false", "falsch"), ("yes", "ja"), ("no", "nein"))}
"""What the English words are in the other languages that the bot speaks."""


def in_language(options: Sequence[str], language: str) -> tuple[str, ...]:
    """Return a pair of true and false, or yes and no, in the language of a class; other options as they are.

    Parameters
    ----------
    options : sequence of str
        The options of a choice.
    language : str
        Of the class. Only pairs in English, and German ones in an English class, are turned.

    Examples
    --------
    >>> in_language(["True", "False"], "de"), in_language(["wahr", "falsch"], "en"), in_language(["True", "blue"], "de")
    (('Wahr', 'Falsch'), ('true', 'false'), ('True', 'blue'))
    """
    if not is_true_or_false(options):
        return tuple(options)
    turned = _SPOKEN.get(language) or tuple((theirs, ours) for ours, theirs in _SPOKEN["de"])
    known = dict(turned)
    if not all(fold(one) in known for one in options):
        return tuple(options)
    return tuple(known[fold(one)].capitalize() if one[:1].isupper() else known[fold(one)] for one in options)
