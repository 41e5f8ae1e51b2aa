"""What grading says of an answer."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Outcome(StrEnum):
    """Right, wrong, or unreadable: then nothing is recorded and the student is asked again."""

    RIGHT = "right"
    WRONG = "wrong"
    UNREADABLE = "unreadable"


class Detail(StrEnum):
    """Why, where the conversation can say something useful about it."""

    # unreadable
    EMPTY = "empty"
    TOO_LONG = "too long"
    NOT_AN_OPTION = "not an option"
    AMBIGUOUS_OPTION = "ambiguous option"
    NOT_A_NUMBER = "not a number"
    UNKNOWN_UNIT = "unknown unit"
    UNIT_MISSING = "unit missing"
    NOT_A_FORMULA = "not a formula"
    OTHER_SUBJECT = "other subject"
    # wrong
    WRONG_DIMENSION = "wrong dimension"
    # right
    TYPO = "typo"
    UNIT_NOT_ASKED = "unit not asked"


@dataclass(frozen=True, slots=True)
class GradingResult:
    """The verdict on one answer.

    Attributes
    ----------
    outcome : Outcome
    detail : Detail or None
    read_as : str
        What was understood, to show back: "27 g/cm³"; for UNKNOWN_UNIT the text taken for a unit, for
        OTHER_SUBJECT the quantity that the formula should give, for TYPO the answer as it is spelled.
    units : tuple of str
        For UNIT_MISSING: units to choose from, in an order that tells nothing. Empty: have it typed.
    number : str
        For UNIT_MISSING: the number as read; ``f"{number} {unit}"`` graded again is the full answer.
    option : int or None
        For a choice: the option of the key that was meant (0 is the right one).
    """

    outcome: Outcome
    detail: Detail | None = None
    read_as: str = ""
    units: tuple[str, ...] = ()
    number: str = ""
    option: int | None = None

    @property
    def right(self) -> bool:
        """Whether the answer counts as right."""
        return self.outcome is Outcome.RIGHT

    @property
    def readable(self) -> bool:
        """Whether the answer counts at all."""
        return self.outcome is not Outcome.UNREADABLE


def unreadable(detail: Detail, read_as: str = "") -> GradingResult:
    """Return the verdict that asks again."""
    return GradingResult(Outcome.UNREADABLE, detail, read_as)


def judged(right: bool, detail: Detail | None = None, read_as: str = "") -> GradingResult:
    """Return the verdict right or wrong."""
    return GradingResult(Outcome.RIGHT if right else Outcome.WRONG, detail, read_as)
