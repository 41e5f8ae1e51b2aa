"""Which option a typed answer means: its letter in the order shown, or its own text.

No option is shown with a number, but some count: "(2)" is the second option where no option has a digit of its own;
beside an option such as "2 cm" a digit is never a place.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

from bot.grading.courtesy import bare
from bot.grading.signs import plain
from bot.grading.texts import words

LETTERS = "ABCDEFGHIJ"
MAX_OPTIONS = len(LETTERS)

_LABEL = re.compile(r"^(?:option |answer |antwort |lösung )?[(\[]? ?([a-z1-9]) ?[)\].:]?$")
_ADDED = re.compile(r"(?P<option>.*\S)\s*[(\[](?P<added>[^()\[\]]+)[)\]]")


def chosen(given: str, shown: Sequence[str]) -> tuple[int, ...]:
    """Return the places (0 is A) of the options that the text can mean; one is an answer, none or two are not.

    Parameters
    ----------
    given : str
        ``b``, ``B)``, or the option's own words.
    shown : sequence of str
        The options in the order in which the student sees them.

    Examples
    --------
    >>> chosen("b)", ["8 cm", "10 cm"]), chosen("10cm", ["8 cm", "10 cm"]), chosen("E", ["8 cm", "10 cm"])
    ((1,), (1,), ())
    """
    found = _chosen(given, shown) or _chosen(bare(given), shown)
    return found or _by_truth(given, shown) or _with_addition(given, shown)


def _with_addition(given: str, shown: Sequence[str]) -> tuple[int, ...]:
    """Read an option with something in brackets behind it: "newton (N)"; the brackets may name another option."""
    found = _ADDED.fullmatch(plain(given))
    if found is None:
        return ()
    option, added = (_chosen(found[part], shown) for part in ("option", "added"))
    return tuple(dict.fromkeys([*option, *added])) if option else ()


def _chosen(given: str, shown: Sequence[str]) -> tuple[int, ...]:
    text = plain(given).casefold()
    by_label = _by_label(text, shown)
    by_text = [place for place, option in enumerate(shown) if _same(given, option)]
    # A letter may stand in front of one option and be another ("B"): then the student must say which.
    return tuple(dict.fromkeys([*by_label, *by_text]))


def _by_label(text: str, shown: Sequence[str]) -> list[int]:
    label = _LABEL.match(text)
    if label is None:
        return []
    if not label[1].isdigit():
        place = ord(label[1]) - ord("a")
    elif any(sign.isnumeric() for option in shown for sign in option):
        return []
    else:
        place = int(label[1]) - 1
    return [place] if 0 <= place < len(shown) else []


# True or false, as it is said in both languages; a question has the words of one (common practice, no source).
_TRUE = frozenset(
    {"true", "t", "yes", "y", "wahr", "w", "richtig", "ja", "j", "right", "correct", "stimmt", "korrekt"}
)
_FALSE = frozenset(
    {"false", "f", "no", "n", "falsch", "nein", "wrong", "incorrect", "untrue", "unwahr", "stimmt nicht"}
)


def _truth(text: str) -> bool | None:
    folded = plain(text).casefold().strip(" .!")
    turned = folded.removeprefix("not ").removeprefix("nicht ")
    if turned != folded:
        inner = _truth(turned)
        return None if inner is None else not inner
    return True if folded in _TRUE else False if folded in _FALSE else None


def _by_truth(given: str, shown: Sequence[str]) -> tuple[int, ...]:
    """Find what is true or false among two options that say so in other words."""
    meant, options = _truth(bare(given)), [_truth(option) for option in shown]
    if meant is None or sorted(map(str, options)) != ["False", "True"]:
        return ()
    return (options.index(meant),)


def _same(given: str, option: str) -> bool:
    # Signs carry meaning in options such as "-5 °C" or "a/b", so words alone do not decide.
    left, right = (_decimal(plain(text).casefold().replace(" ", "").rstrip(".")) for text in (given, option))
    return bool(left) and (left == right or (_is_words(option) and words(given) == words(option) != ()))


def _decimal(text: str) -> str:
    return re.sub(r"(?<=\d),(?=\d)", ".", text)


def _is_words(option: str) -> bool:
    return all(sign.isalpha() or sign in " .,;:!?'-" for sign in option)
