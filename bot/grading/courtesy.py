"""The words around an answer: "I think it is 8", "newton, please", "es ist Reibung", "3.5!".

They say nothing about the answer ("maybe" does, and stays). What they leave is compared as if it had been typed
alone; a negation stays, so that "it is not newton" is compared as "not newton". Which words these are is common
practice, no source.
"""

from __future__ import annotations

import re

_LEADS = (
    "i(?: would)? (?:think|guess|believe|say)(?: that)?(?= )|it is|it's|its|it would be|that is|that's|this is|"
    "(?:the |my )?answer(?: is|:)|(?:the |my )?result(?: is|:)|"
    "ich (?:glaube|denke|meine|würde sagen|tippe auf|schätze)(?: mal)?|es (?:ist|sind)|das (?:ist|sind)|"
    "(?:die |meine )?(?:antwort|lösung)(?: ist| lautet|:)|(?:das )?ergebnis(?: ist|:)"
)
_LEAD = re.compile(rf"^(?:{_LEADS})[,:]?(?: |$)", re.IGNORECASE)
_TAILS = "i (?:think|guess|believe)|please|thanks|thank you|glaube ich|denke ich|würde ich sagen|bitte|danke"
_TAIL = re.compile(rf"(?:^|[, ]+)(?:{_TAILS})$", re.IGNORECASE)
_END = " !?.…,;"
# "I think that it is, maybe, about …": more in a row is no answer.
_MOST = 3


def without_lead(text: str) -> str:
    """Drop what people write in front of an answer.

    Examples
    --------
    >>> without_lead("I think it is newton"), without_lead("Es ist die Reibung"), without_lead("item")
    ('newton', 'die Reibung', 'item')
    """
    for _ in range(_MOST):
        text = _LEAD.sub("", text)
    return text


def without_tail(text: str) -> str:
    """Drop what people write behind an answer, and the signs that end a sentence.

    Examples
    --------
    >>> without_tail("3.5!"), without_tail("Reibung, glaube ich."), without_tail("5!")
    ('3.5', 'Reibung', '5')
    """
    for _ in range(_MOST):
        text = _TAIL.sub("", text.rstrip(_END))
    return text.rstrip(_END)


def bare(text: str) -> str:
    """Return an answer without the words around it; the text itself where nothing would be left."""
    text = " ".join(text.split())
    return without_tail(without_lead(text)) or text


# --- what the question asks for ---------------------------------------------------------------------------

_ASKED = re.compile(
    r"\b(?:which|what|name (?:the|a|an)|welche[rsnm]?|nenne (?:die|den|das|eine?n?))\s+"
    r"(?:kind of |type of |sort of |art )?([^\W\d_]{4,})",
    re.IGNORECASE,
)
_COUNTED = re.compile(r"\b(?:how many|wie ?viele)((?:\s+[^\W\d_]+){1,3})", re.IGNORECASE)


def asked_nouns(question: str) -> frozenset[str]:
    """Return the nouns that say what is asked for: "Which force slows a book?" asks for a force.

    Examples
    --------
    >>> sorted(asked_nouns("Which force slows a book?")), sorted(asked_nouns("Welches Bauteil speichert Ladung?"))
    (['force'], ['bauteil'])
    """
    return frozenset(noun.casefold() for noun in _ASKED.findall(question))


def counted_words(question: str) -> tuple[str, ...]:
    """Return the words behind "how many": what is counted is among them, mostly the first.

    Examples
    --------
    >>> counted_words("How many electrons has oxygen?")
    ('electrons', 'has', 'oxygen')
    """
    found = _COUNTED.search(question)
    return tuple(found[1].casefold().split()) if found else ()
