"""How figures are worded: rounded to what they are worth, never without their interval.

The texts themselves stand in ``bot.words``; here is only what several of them share.
"""

from __future__ import annotations

from datetime import date, datetime

from babel.dates import format_interval

from bot.evidence.shared.figures import IntervalEstimate, Proportion, Standing
from bot.words import Words
from bot.words.rich import Rich
from scheduler.calendar.school_days import local_time
from storage.history.evidence_rows import ClassRecord

NBSP = "\u00a0"

FINE_WIDTH = 0.10
"""An interval narrower than this is worth single points; a wider one is worth steps of five."""


def rounded(estimate: IntervalEstimate) -> int:
    """Return the estimate in percent, rounded to what it is worth.

    Examples
    --------
    >>> rounded(IntervalEstimate(0.448, 0.35, 0.55)), rounded(IntervalEstimate(0.713, 0.69, 0.74))
    (45, 71)
    """
    step = 1 if estimate.width < FINE_WIDTH else 5
    return step * round(100.0 * estimate.mean / step)


def never_certain(estimate: IntervalEstimate) -> IntervalEstimate:
    """Return a prediction that keeps off 0 and 100 %, by as much as it is rounded to.

    Examples
    --------
    >>> never_certain(IntervalEstimate(0.99, 0.85, 1.0))
    IntervalEstimate(mean=0.95, low=0.85, high=0.95)
    """
    edge = 0.01 if estimate.width < FINE_WIDTH else 0.05
    mean, low, high = (min(max(one, edge), 1 - edge) for one in (estimate.mean, estimate.low, estimate.high))
    return IntervalEstimate(mean, low, high)


def percent(share: float) -> str:
    """Write a share as whole percent: ``45 %``."""
    return f"{round(100.0 * share)}{NBSP}%"


def about(words: Words, estimate: IntervalEstimate | None) -> str:
    """Write ``about 45 % (35–55)``, or that there is too little to tell."""
    if estimate is None:
        return words.text("evidence.too_few")
    return words.text("evidence.about", value=f"{rounded(estimate)}{NBSP}%", bounds=bounds(estimate))


def briefly(estimate: IntervalEstimate | None) -> str:
    """Write ``45 %``, or a dash."""
    return "–" if estimate is None else f"{rounded(estimate)}{NBSP}%"


def bounds(estimate: IntervalEstimate) -> str:
    """Write the interval in percent: ``35–55``."""
    step = 1 if estimate.width < FINE_WIDTH else 5
    low, high = (
        min(100, max(0, step * round(100.0 * bound / step))) for bound in (estimate.low, estimate.high)
    )
    return f"{low}–{high}"


def counted(words: Words, share: Proportion) -> str:
    """Write ``12 of 14: about 85 % (70–95)``, or the bare counts when they are few."""
    if not share.enough:
        return words.text("evidence.counts", count=share.count, of=share.of)
    return words.text(
        "evidence.counts_about", count=share.count, of=share.of, about=about(words, share.estimate)
    )


def sureness(words: Words, standing: Standing) -> str:
    """Write how sure it is that something lies under half."""
    return words.text(f"evidence.standing.{standing.name.lower()}")


def span(words: Words, first: date, last: date) -> str:
    """Write a range of days: ``30 Nov – 6 Dec``."""
    locale = "en_GB" if words.language == "en" else words.language
    return str(format_interval(first, last, "MMMd", locale=locale)).replace("\u2009", " ")


def moment(words: Words, at: datetime, zone: str) -> str:
    """Write a moment on the class's clock: ``Fri 4 Dec, 15:30``."""
    return f"{words.day(local_time(at, zone).date())}, {words.time(at, zone)}"


def title_of(school_class: ClassRecord) -> str:
    """Write the class with its subject: ``10B Physics``."""
    subject = school_class.subject.strip()
    if not subject or subject.casefold() in school_class.name.casefold():
        return school_class.name
    return f"{school_class.name} {subject}"


def stacked(*lines: Rich | None) -> Rich:
    """Put lines under each other; None is left out."""
    result = Rich()
    for line in lines:
        if line is not None:
            result = result + Rich.of("\n") + line if result.spans else line
    return result
