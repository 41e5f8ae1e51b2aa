"""Short text answers: the same word in another dress is the same answer, a slip of the finger is forgiven.

Compared after NFKC, casefolding, and without punctuation, leading articles and double blanks. Small typos are
forgiven by the optimal string alignment distance (a swap of neighbours counts one): none in words of up to four
letters, one in words of five to eleven, two from twelve on. They are *not* forgiven

- in the first letter, in negations, and in words with digits;
- between words that differ in what carries the meaning: opposite beginnings (endo-/exo-, intra-/inter-, in-/ex-,
  un-/nothing) and endings of chemical families (-ate/-ite/-ide, -ane/-ene/-yne);
- when the answer is as near to one of the question's own wrong answers.

- when the slip made another word: one of the topic's other answers, or of a common list of English or German words
  ("fraction" and "fiction" for friction), unless it is only another form of the same word.

What the lists do not know, a teacher adds as a wrong answer of the question.

Words around the answer are left out: courtesy, a preposition, what the question asks for ("friction force"), a symbol
in brackets ("newton (N)"). A negation and a second answer ("newton or joule") are never left out.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Iterator
from enum import Enum
from functools import lru_cache

from bot.grading.courtesy import asked_nouns, bare
from bot.grading.signs import one_minus, plain_digits, raised_to_powers, without_marks
from bot.grading.spelling import is_plural, is_same_word, is_variant
from bot.grading.unitnames import meanings
from bot.grading.wordlist import is_word

MAX_WORDS = 30

_ARTICLE_WORDS = (
    "a an the der die das den dem ein eine einen le la les un une el los las una il lo gli i uno de het een"
)
_NEGATION_WORDS = "no not non never none nor without neither cannot kein keine nicht ohne pas sans"
_JOINING = frozenset({"or", "oder", "and", "und", "ou", "y", "o"})
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


def compare(
    given: str,
    answers: Iterable[str],
    wrong: Iterable[str] = (),
    question: str = "",
    others: Iterable[str] = (),
) -> tuple[Match, str]:
    """Compare a text with the accepted answers.

    Parameters
    ----------
    given : str
    answers : iterable of str
        Accepted answers.
    wrong : iterable of str
        Answers known to be wrong: never taken for a slip.
    question : str
        What was asked; the noun that it asks for may stand beside the answer.
    others : iterable of str
        Other texts of the topic: their words are never taken for a slip.

    Returns
    -------
    Match, str
        And the accepted answer that it was taken for ("" when OTHER).
    """
    answers, wrong = list(answers), list(wrong)
    taken = frozenset(word for text in others for word in words(text))
    found: tuple[Match, str] = Match.OTHER, ""
    for way in _ways(given, question):
        match, answer = _compare(words(way), answers, wrong, taken)
        if match is Match.SAME:
            return match, answer
        found = (match, answer) if found[0] is Match.OTHER else found
    return found


def _compare(
    own: tuple[str, ...], answers: list[str], wrong: list[str], taken: frozenset[str]
) -> tuple[Match, str]:
    for answer in answers:
        if _joined(own) == _joined(words(answer)):
            return Match.SAME, answer
    near = sorted(
        (slips, answer)
        for answer in answers
        if (slips := slips_between(own, words(answer), taken)) is not None
    )
    if not near or any(_as_near(own, words(text), near[0][0]) for text in wrong):
        return Match.OTHER, ""
    return Match.NEAR, near[0][1]


# --- the words around an answer ---------------------------------------------------------------------------

_PREPOSITION = re.compile(
    r"^(?:in|at|by|through|via|durch|mit|bei)(?: the| der| dem| die| das)? ", re.IGNORECASE
)
_SYMBOL = re.compile(r"^(.{1,60}?) ?[(\[] ?([^()\[\]]{1,30}?) ?[)\]]$")
_LETTER = re.compile(r"[^\W\d_]|[A-Z][a-z]")
# Forces whose name may be said with or without the word (common practice, no source).
_FORCES = (
    "friction|frictional|gravity|gravitational|drag|tension|normal|centripetal|buoyancy|magnetic|electric|elastic|"
    "spring"
)
_FORCE = re.compile(rf"^(?:the )?(?:({_FORCES}) force|force of ({_FORCES}))$", re.IGNORECASE)
_ADJECTIVES = {"frictional": "friction", "gravitational": "gravity"}


def _ways(given: str, question: str) -> Iterator[str]:
    """Give a text as it was typed, and without the words that add nothing."""
    ways = [given, bare(given)]
    bracket = _SYMBOL.match(ways[-1])
    if bracket:
        name, symbol = bracket[1], bracket[2]
        ways += [symbol] if _is_symbol_of(symbol, name) else []
        ways += [name] if _is_symbol_of(name, symbol) else []
    ways.append(_PREPOSITION.sub("", ways[-1]))
    last = " ".join(words(ways[-1]))
    head, _, noun = last.rpartition(" ")
    if head and noun in asked_nouns(question):
        ways.append(head)
    force = _FORCE.match(last)
    if force:
        name = (force[1] or force[2]).casefold()
        ways.append(_ADJECTIVES.get(name, name))
    yield from dict.fromkeys(ways)


def _is_symbol_of(name: str, symbol: str) -> bool:
    """Whether a symbol may stand for a name: that of the same unit, or a short one of something that is no unit."""
    unit, short = meanings(name.strip().casefold()), meanings(symbol)
    if unit or len(symbol) > 3 or set(words(symbol)) & (_NEGATIONS | _JOINING):
        return bool(set(unit) & set(short))
    # Which letter stands for which quantity cannot be known: "current (I)", "sodium (Na)".
    return _LETTER.fullmatch(symbol) is not None


def _joined(parts: tuple[str, ...]) -> str:
    # "photo synthesis" and "X-ray" are written apart and together; digits are not: "1 2" is not "12".
    return re.sub(r"(?<!\d) | (?!\d)", "", " ".join(parts))


def _as_near(own: tuple[str, ...], other: tuple[str, ...], slips: int) -> bool:
    return _distance(_letters(" ".join(own)), _letters(" ".join(other))) <= slips


def _distance(one: str, other: str, cutoff: int | None = None) -> int:
    """Count single changes and exchanges of neighbours (optimal string alignment); above `cutoff` one more than it."""
    from rapidfuzz.distance import OSA  # here: papers read keys, and need no distance

    return OSA.distance(one, other, score_cutoff=cutoff)


def slips_between(
    given: tuple[str, ...], answer: tuple[str, ...], taken: frozenset[str] = frozenset()
) -> int | None:
    """Count the typos that would turn the answer into the given words; None when it is no matter of typos."""
    if not given or len(given) != len(answer) or len(given) > MAX_WORDS:
        return None
    slips = [_slips(one, other, taken) for one, other in zip(given, answer, strict=True)]
    known = [n for n in slips if n is not None]
    return sum(known) if len(known) == len(slips) and sum(known) <= 2 else None


def _slips(given: str, answer: str, taken: frozenset[str]) -> int | None:
    if given == answer:
        return 0
    if given in taken:
        return None
    if _letters(given) == _letters(answer):
        # A missing accent is one slip, also in a short word: phones leave it out.
        return 1
    if is_variant(given, answer) or is_plural(given, answer):
        return 1
    allowed = _allowed(len(answer))
    slips = _distance(given, answer, allowed)
    if slips > allowed or _is_other_word(given, answer):
        return None
    return None if is_word(given) and not is_same_word(given, answer) else slips


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
