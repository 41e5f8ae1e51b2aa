"""What a question kind has to say about itself: the recipe that each module of this folder fills in."""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, ClassVar, Generic, Literal, Protocol, TypeVar

from bot.grading.amounts import Amount
from bot.grading.verdict import GradingResult
from storage.files.values import QuestionKind, Tolerance

Column = Literal["answer", "alternatives", "wrong options", "typical errors", "tolerance", "unit"]

K = TypeVar("K")
"""The key of a kind: a frozen dataclass whose values JSON can hold."""


@dataclass(frozen=True, slots=True)
class WrittenKey:
    """A key as a teacher wrote it, blanks put in order.

    Attributes
    ----------
    answer : str
        The right answer; for a number it may carry its unit.
    alternatives : tuple of str
        Further right answers.
    wrong : tuple of str
        The other options of a choice; for a text, answers that are never taken for a typo.
    tolerance : Tolerance or None
        For a number.
    unit : str
        For a number whose answer is written without one; else empty.
    question : str
        What is asked, where that is known.
    """

    answer: str
    alternatives: tuple[str, ...] = ()
    wrong: tuple[str, ...] = ()
    tolerance: Tolerance | None = None
    unit: str = ""
    question: str = ""


class KeyFault(Protocol):
    """Notes what is wrong with a key: the column, the value found, and why, by code."""

    def __call__(self, column: Column, found: str, code: str, /, **values: Any) -> None: ...  # noqa: D102


@dataclass(frozen=True, slots=True)
class Given:
    """An answer as it was typed, and what it has to be seen beside.

    Attributes
    ----------
    text : str
    order : tuple of int
        For a choice: its options (0 is the right one) in the order shown; empty for that of the key.
    question : str
        What was asked.
    others : iterable of str
        Answers to other questions of the topic.
    """

    text: str
    order: tuple[int, ...] = ()
    question: str = ""
    others: Iterable[str] = ()


@dataclass(frozen=True, slots=True)
class DrawnAnswer:
    """An answer of one draw: as shown and, where it was computed, the amounts that it stands for."""

    shown: str
    amounts: tuple[Amount, ...] = ()


class Recipe(ABC, Generic[K]):
    """Everything that differs from kind to kind.

    Attributes
    ----------
    kind : str
        Its name, stored with every question.
    key_type : type
        The class of its keys.
    is_tapped : bool
        Whether there are options to tap.
    in_words : bool
        Whether any words can be the answer, also those of a command.
    needs_others : bool
        Whether grading looks at the answers to other questions of the topic.
    is_figure : bool
        Whether what is shown is a number, written as the reader's language writes numbers.
    has_slashes : bool
        Whether a slash with blanks around it can be part of an answer.
    ignores_case : bool
        Whether capital and small letters are the same in an answer.
    keeps_errors : bool
        Whether typical wrong answers are part of the key, so that they are never taken for a slip.
    drawn_answer : {"formula", "text", "either"}
        How an answer over drawn values is written: a formula to be computed, a text with placeholders, or whichever of
        the two it looks like.
    drawn_unit : {"known", "shown", "none"}
        What a unit beside drawn values is: one that can be computed with, any text to be shown, or none.
    """

    kind: ClassVar[QuestionKind]
    key_type: ClassVar[type]
    is_tapped: ClassVar[bool] = False
    in_words: ClassVar[bool] = False
    needs_others: ClassVar[bool] = False
    is_figure: ClassVar[bool] = False
    has_slashes: ClassVar[bool] = False
    ignores_case: ClassVar[bool] = False
    keeps_errors: ClassVar[bool] = False
    drawn_answer: ClassVar[Literal["formula", "text", "either"]] = "text"
    drawn_unit: ClassVar[Literal["known", "shown", "none"]] = "none"

    @property
    def wrong_column(self) -> Column:
        """The column of a sheet in which wrong answers stand."""
        return "wrong options" if self.is_tapped else "typical errors"

    # ------------------------------------------------------------ the key

    @abstractmethod
    def fits(self, written: WrittenKey) -> bool:
        """Whether a question is of this kind by what its answer looks like."""

    @abstractmethod
    def make(self, written: WrittenKey, fault: KeyFault) -> K | None:
        """Make the key of what a teacher wrote, telling `fault` every problem."""

    @abstractmethod
    def read(self, stored: Mapping[str, Any]) -> K:
        """Read a stored key. Raises `KeyError`, `TypeError` or `ValueError` where it is damaged."""

    @abstractmethod
    def written(self, key: K) -> WrittenKey:
        """Return what a teacher would write in a sheet to make the key again."""

    # ------------------------------------------------------------ drawn values

    @abstractmethod
    def fits_drawn(self, is_computed: bool, example: str) -> bool:
        """Whether a question with drawn values is of this kind, by its answer.

        Parameters
        ----------
        is_computed : bool
            Whether the answer is a formula over the drawn values.
        example : str
            The answer with some number in each place of a drawn value.
        """

    @abstractmethod
    def make_drawn(
        self,
        right: DrawnAnswer,
        more: Sequence[DrawnAnswer],
        wrong: Sequence[DrawnAnswer],
        tolerance: Tolerance | None,
    ) -> K:
        """Make the key of one draw: the right answer, further right ones, and wrong ones."""

    @abstractmethod
    def make_listed(self, written: WrittenKey) -> K:
        """Make a key that shows the formulas of an answer over drawn values in a list; nothing is graded by it."""

    # ------------------------------------------------------------ grading

    @abstractmethod
    def grade(self, key: K, given: Given) -> GradingResult:
        """Grade what was typed; it is neither empty nor too long."""

    @abstractmethod
    def chance(self, key: K) -> float:
        """Probability of a right answer without any knowledge, in [0..1)."""

    def is_error(self, error: K, given: Given) -> bool:
        """Whether a wrong answer is the typical error that has this key."""
        return self.grade(error, given).right

    # ------------------------------------------------------------ showing

    @abstractmethod
    def shown(self, key: K) -> tuple[str, ...]:
        """Write every right answer for people to read, the one that is shown to students first."""

    def hint(self, key: K) -> str:
        """Name the hint that stands beside the question (``student.hint.NAME``); empty where it needs none."""
        del key
        return self.kind

    def typed_lines(self, key: K) -> tuple[str, ...]:
        """Return what a teacher would type after answer and options to make the key again."""
        del key
        return ()

    # ------------------------------------------------------------ buttons

    def options(self, key: K) -> tuple[str, ...]:
        """Return what can be tapped, the right one first; none where the answer is typed."""
        del key
        return ()

    def grade_option(self, key: K, option: int) -> GradingResult:
        """Grade a tapped option, numbered as in the key.

        Raises
        ------
        IndexError
            When the key has no such option: the button was not ours.
        """
        raise IndexError(f"option {option} of {len(self.options(key))}")

    # ------------------------------------------------------------ record

    @abstractmethod
    def interaction(self, key: K, language: str) -> dict[str, Any]:
        """Describe the question as an activity of xAPI (specification 1.0.3, part 2, interaction activities)."""

    def response(self, option: int | None, typed: str | None) -> str | None:
        """Return an answer as xAPI records it: `typed` is None where what people typed is not told."""
        del option
        return typed or None


def quoted(text: str) -> str:
    """Return a cell's text for a message, cut where it is long."""
    return f'"{text[:40]}{"…" if len(text) > 40 else ""}"'


# ---------------------------------------------------------------- reading what was stored


def stored_list(values: Any) -> Sequence[Any]:
    """Return a list that is not empty. Raises `ValueError`."""
    if not isinstance(values, list | tuple) or not values:
        raise ValueError("an empty list")
    return values


def stored_text(value: Any) -> str:
    """Return a text. Raises `TypeError`."""
    if not isinstance(value, str):
        raise TypeError(f"{value!r:.40} is no text")
    return value


def stored_texts(values: Any, least: int = 1) -> tuple[str, ...]:
    """Return texts, at least one unless `least` is 0. Raises `TypeError` or `ValueError`."""
    return tuple(stored_text(value) for value in (stored_list(values) if least else values))
