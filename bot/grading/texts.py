"""Short text answers: the same word in another dress is the same answer, a slip of the finger is forgiven.

Compared after NFKC, casefolding, and without punctuation, leading articles and double blanks. Small typos are
forgiven by the optimal string alignment distance (a swap of neighbours counts one): none in words of up to four
letters, one in words of five to eleven, two from twelve on. They are *not* forgiven

- in the first letter, in negations, and in words with digits;
- between words that differ in what carries the meaning: opposite beginnings (endo-/exo-, intra-/inter-, in-/ex-,
  un-/nothing) and endings of chemical families (-ate/-ite/-ide, -ane/-ene/-yne);
- when the answer is as near to one of the question's own wrong answers.

That a slip makes another real word cannot be seen without a dictionary of every subject: a teacher lists such a
word as a wrong answer of the question.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Iterator
from enum import Enum
from functools import lru_cache

from rapidfuzz.distance import OSA

from bot.grading.signs import one_minus, plain_digits, raised_to_powers, without_marks

MAX_WORDS = 30

_ARTICLE_WORDS = (
    "a an the der die das den dem ein eine einen le la les un une el los las una il lo gli i uno de het een"
)
_NEGATION_WORDS = "no not non never none nor without neither cannot kein keine nicht ohne pas sans"
_ARTICLES = frozenset(_ARTICLE_WORDS.split())
_NEGATIONS = frozenset(_NEGATION_WORDS.split())
# A minus counts before a digit and in a charge ("SO4^2-"), not as a hyphen.
_WORD = re.compile(r"(?:(?<!\w)-(?=\d))?(?:[\w+%°]|\^[\d+-]*)+(?:[.,]\d+)*")

# Beginnings that turn a word into another one: within a row, any two differ in meaning.
_BEGINNINGS = (
    ("endo", "exo"), ("endo", "ecto"), ("intra", "inter"), ("in", "ex"), ("im", "ex"), ("e", "im"), ("in", "de"),
    ("in", "con"), ("hyper", "hypo"), ("macro", "micro"), ("ad", "ab"), ("an", "cat"), ("an", "c"),
    ("homo", "hetero"), ("mono", "di", "tri", "poly"), ("uni", "bi", "tri", "multi"), ("pre", "post"),
    ("con", "dis"), ("con", "di"), ("pro", "re", "trans"), ("sub", "super"), ("over", "under"), ("pro", "anti"),
    ("iso", "allo"), ("aero", "anaero"), ("oo", "spermato"), ("milli", "micro", "mega"), ("kilo", "milli"),
    *(("", prefix) for prefix in ("un", "in", "im", "il", "ir", "non", "dis", "anti", "a", "an", "de", "mis", "ab")),
)  # fmt: skip
_ENDINGS = (
    ("ate", "ite", "ide"), ("ane", "ene", "yne"), ("ose", "ase"), ("ine", "ide"), ("ium", "ia"), ("ous", "ic"),
    ("ane", "ine", "ene", "one"), ("anol", "anal"), ("er", "ee"), ("less", "ful"), ("al", "ol"),
)  # fmt: skip


# Words of the trade that one slip would turn into each other (from memory; a teacher adds others as wrong answers).
_PAIRS = """
proton/photon neutron/neuron ileum/ilium isotope/isotone altitude/latitude angle/angel fission/fusion
principal/principle stationary/stationery complement/compliment desert/dessert causal/casual phase/phrase
median/medium weather/whether thymine/thiamine ratio/radio nuclear/unclear lightning/lightening
electron/election filament/ligament meson/mason boson/bison solute/solution molar/polar plane/plain
lysis/lysin species/spices cornea/corner genus/genius martial/marital trail/trial
"""
_OTHER_WORDS = frozenset(frozenset(pair.split("/")) for pair in _PAIRS.split())


class Match(Enum):
    """How a text compares with the answers looked for."""

    SAME = "same"
    NEAR = "near"
    OTHER = "other"


@lru_cache(maxsize=4096)
def words(text: str) -> tuple[str, ...]:
    """Return the words that count: normal form, no capitals, no punctuation, no leading article.

    Examples
    --------
    >>> words("  The X-Ray (ﬁrst).")
    ('x', 'ray', 'first')
    >>> words("CO₂"), words("x²"), words("the")
    (('co2',), ('x^2',), ('the',))
    """
    normal = unicodedata.normalize("NFKC", raised_to_powers(without_marks(text))).casefold()
    # Casefolding can undo the normal form ("ŉ", dotted I): once more, as UAX #15 asks for comparisons.
    plain = one_minus(plain_digits(unicodedata.normalize("NFKC", normal)).replace("_", " "))
    # Signs alone (">", "=") are compared as they are.
    found = _WORD.findall(plain) or plain.split()
    if len(found) > 1 and found[0] in _ARTICLES:
        found = found[1:]
    return tuple(found)


def compare(given: str, answers: Iterable[str], wrong: Iterable[str] = ()) -> tuple[Match, str]:
    """Compare a text with the accepted answers.

    Parameters
    ----------
    given : str
    answers : iterable of str
        Accepted answers.
    wrong : iterable of str
        Answers known to be wrong: never taken for a slip.

    Returns
    -------
    Match, str
        And the accepted answer that it was taken for ("" when OTHER).
    """
    own, answers = words(given), list(answers)
    for answer in answers:
        if _joined(own) == _joined(words(answer)):
            return Match.SAME, answer
    near = sorted(
        (slips, answer) for answer in answers if (slips := slips_between(own, words(answer))) is not None
    )
    if not near or any(_as_near(own, words(text), near[0][0]) for text in wrong):
        return Match.OTHER, ""
    return Match.NEAR, near[0][1]


def _joined(parts: tuple[str, ...]) -> str:
    # "photo synthesis" and "X-ray" are written apart and together; digits are not: "1 2" is not "12".
    return re.sub(r"(?<!\d) | (?!\d)", "", " ".join(parts))


def _as_near(own: tuple[str, ...], other: tuple[str, ...], slips: int) -> bool:
    return OSA.distance(_letters(" ".join(own)), _letters(" ".join(other))) <= slips


def slips_between(given: tuple[str, ...], answer: tuple[str, ...]) -> int | None:
    """Count the typos that would turn the answer into the given words; None when it is no matter of typos."""
    if not given or len(given) != len(answer) or len(given) > MAX_WORDS:
        return None
    slips = [_slips(one, other) for one, other in zip(given, answer, strict=True)]
    known = [n for n in slips if n is not None]
    return sum(known) if len(known) == len(slips) and sum(known) <= 2 else None


def _slips(given: str, answer: str) -> int | None:
    if given == answer:
        return 0
    if _letters(given) == _letters(answer):
        # A missing accent is one slip, also in a short word: phones leave it out.
        return 1
    allowed = _allowed(len(answer))
    slips = OSA.distance(given, answer, score_cutoff=allowed)
    return slips if slips <= allowed and not _is_other_word(given, answer) else None


def _letters(word: str) -> str:
    return "".join(s for s in unicodedata.normalize("NFKD", word) if not unicodedata.combining(s))


def _allowed(length: int) -> int:
    if length <= 4:
        return 0
    return 1 if length <= 11 else 2


def _is_other_word(given: str, answer: str) -> bool:
    if given[0] != answer[0] and sorted(given[:2]) != sorted(answer[:2]):
        return True
    if any(sign.isdigit() for sign in given + answer) or {given, answer} & _NEGATIONS:
        return True
    if frozenset(_singular(word) for word in (given, answer)) in _OTHER_WORDS:
        return True
    return _differ_in(given, answer, _BEGINNINGS, at_end=False) or _differ_in(
        given, answer, _ENDINGS, at_end=True
    )


def _singular(word: str) -> str:
    return word[:-1] if word.endswith("s") and not word.endswith(("ss", "is", "us")) else word


def _differ_in(one: str, other: str, families: Iterable[tuple[str, ...]], *, at_end: bool) -> bool:
    for family in families:
        stems = {(part, stem) for part in family for stem in _stems(one, part, at_end)}
        more = {(part, stem) for part in family for stem in _stems(other, part, at_end)}
        if any(a[0] != b[0] and a[1] == b[1] for a in stems for b in more):
            return True
    return False


def _stems(word: str, part: str, at_end: bool) -> Iterator[str]:
    if at_end and word.endswith(part):
        yield word[: len(word) - len(part)]
        # The plural of a family is the family.
    elif at_end and word.endswith(part + "s"):
        yield word[: len(word) - len(part) - 1]
    elif not at_end and word.startswith(part):
        yield word[len(part) :]
