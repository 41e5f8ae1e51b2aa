"""What a new timetable changes: moved, renamed, new and dropped, never a duplicate.

Topics first: a topic that stands in both files under the same name is the same; of the others, two are the same topic
under two names if they are taught on a common day or their names are alike. Then, within each topic, lessons on the
same day belong together and the rest in order of time. Whatever finds no partner is new or dropped.

A rename carries a topic's questions and answers along, so a doubtful one (a common day, but names that are not
alike) is marked: the teacher can say "another topic", and ``compare`` is asked again with ``not_renamed``.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Sequence
from dataclasses import dataclass
from datetime import date, time
from typing import Generic, TypeVar

from rapidfuzz import fuzz

from storage.files.folding import fold
from storage.files.values import HolidayRow, LessonRow, QuizRow, TimetableFile

_ALIKE = 85.0
_RATHER_ALIKE = 60.0
_HOLIDAY_REACH_DAYS = 60


Entry = LessonRow | QuizRow | HolidayRow
R = TypeVar("R", bound=Entry)


@dataclass(frozen=True)
class Change(Generic[R]):
    """One stored entry and what the file has in its place; either may be missing.

    Attributes
    ----------
    before : LessonRow, QuizRow, HolidayRow or None
        As stored, ``row`` being what storage knows it by; None if the entry is new.
    after : LessonRow, QuizRow, HolidayRow or None
        As in the file; None if the entry is dropped.
    """

    before: R | None
    after: R | None

    @property
    def new(self) -> bool:
        """Whether the file adds it."""
        return self.before is None

    @property
    def dropped(self) -> bool:
        """Whether the file lacks it."""
        return self.after is None

    @property
    def moved(self) -> bool:
        """Whether it takes place on another day or, as far as both are known, at another time."""
        if self.before is None or self.after is None:
            return False
        times = {_start(self.before), _start(self.after)} - {None}
        return _days(self.before) != _days(self.after) or len(times) > 1

    @property
    def renamed(self) -> bool:
        """Whether it has another name or topic (another case or kind of quotes is none)."""
        if self.before is None or self.after is None:
            return False
        return fold(_title(self.before)) != fold(_title(self.after))

    @property
    def same(self) -> bool:
        """Whether nothing at all has changed."""
        if self.before is None or self.after is None:
            return False
        return _content(self.before) == _content(self.after)


@dataclass(frozen=True)
class TopicChange:
    """A topic that is new (``before`` None), dropped (``after`` None) or renamed; ``sure`` unless it is a guess."""

    before: str | None
    after: str | None
    sure: bool = True

    @property
    def renamed(self) -> bool:
        """Whether it is the same topic under another name."""
        return self.before is not None and self.after is not None


@dataclass(frozen=True)
class Difference:
    """Everything a new file changes. Entries that stay as they are stand in the lists too (``same``).

    Attributes
    ----------
    lessons, quizzes, holidays : tuple of Change
        In the order of the file, dropped ones last.
    topics : tuple of TopicChange
        Only those that change.
    """

    lessons: tuple[Change[LessonRow], ...]
    quizzes: tuple[Change[QuizRow], ...]
    holidays: tuple[Change[HolidayRow], ...]
    topics: tuple[TopicChange, ...]

    @property
    def nothing(self) -> bool:
        """Whether the file says just what is stored."""
        counted = self.counts().values()
        return not any(count for counters in counted for what, count in counters.items() if what != "same")

    @property
    def doubtful(self) -> tuple[TopicChange, ...]:
        """Renames that are a guess; the teacher should be asked."""
        return tuple(change for change in self.topics if change.renamed and not change.sure)

    def counts(self) -> dict[str, dict[str, int]]:
        """Count what happens to lessons, quizzes and holidays.

        Returns
        -------
        dict
            For each of ``lessons``, ``quizzes``, ``holidays``: how many are ``same``, ``moved``, ``renamed``,
            ``changed`` (anything else, such as homework), ``new`` and ``dropped``. An entry that is both moved and
            renamed counts in both.
        """
        return {
            "lessons": _counters(self.lessons),
            "quizzes": _counters(self.quizzes),
            "holidays": _counters(self.holidays),
        }


def _counters(changes: Iterable[Change[R]]) -> dict[str, int]:
    counted = dict.fromkeys(("same", "moved", "renamed", "changed", "new", "dropped"), 0)
    for change in changes:
        counted["same"] += change.same
        counted["moved"] += change.moved
        counted["renamed"] += change.renamed
        counted["new"] += change.new
        counted["dropped"] += change.dropped
        paired = not change.new and not change.dropped
        counted["changed"] += paired and not (change.same or change.moved or change.renamed)
    return counted


def compare(
    known: TimetableFile, new: TimetableFile, *, not_renamed: Collection[tuple[str, str]] = ()
) -> Difference:
    """Compare the stored timetable with a new file.

    Parameters
    ----------
    known : TimetableFile
        What is stored.
    new : TimetableFile
        What the file says; it counts as the whole timetable, so what it lacks is dropped.
    not_renamed : collection of (str, str)
        Pairs of an old and a new topic of which the teacher has said that they are two.

    Returns
    -------
    Difference

    Examples
    --------
    >>> monday, tuesday = date(2026, 11, 30), date(2026, 12, 1)
    >>> found = compare(
    ...     TimetableFile(lessons=(LessonRow(1, "Springs", monday), LessonRow(2, "Density", monday))),
    ...     TimetableFile(lessons=(LessonRow(2, "Spring", monday), LessonRow(3, "Density", tuesday))),
    ... )
    >>> [(change.moved, change.renamed) for change in found.lessons]
    [(False, True), (True, False)]
    """
    renames, topics = _match_topics(known.lessons, new.lessons, {(fold(a), fold(b)) for a, b in not_renamed})
    return Difference(
        lessons=_lessons(known.lessons, new.lessons, renames),
        quizzes=_pairs(known.quizzes, new.quizzes, _quiz_rounds()),
        holidays=_pairs(known.holidays, new.holidays, _holiday_rounds()),
        topics=topics,
    )


# --- topics


def _topic_days(lessons: Iterable[LessonRow]) -> dict[str, tuple[str, set[date]]]:
    """Give each topic's spelling and days, by its folded name."""
    found: dict[str, tuple[str, set[date]]] = {}
    for lesson in lessons:
        found.setdefault(fold(lesson.topic), (lesson.topic, set()))[1].add(lesson.day)
    return found


def _match_topics(
    known: Sequence[LessonRow], new: Sequence[LessonRow], refused: set[tuple[str, str]]
) -> tuple[dict[str, str], tuple[TopicChange, ...]]:
    """Give old to new folded names of topics that go together, and the topics that change."""
    before, after = _topic_days(known), _topic_days(new)
    pairs = {topic: topic for topic in before if topic in after}
    left, right = [one for one in before if one not in after], [one for one in after if one not in before]
    renames: dict[str, tuple[str, bool]] = {}
    for score, old, fresh in sorted(
        _candidates(before, after, left, right), key=lambda one: one[0], reverse=True
    ):
        if old in renames or (old, fresh) in refused or fresh in {taken for taken, _sure in renames.values()}:
            continue
        renames[old] = (fresh, score[0] > 0)
    pairs.update({old: fresh for old, (fresh, _sure) in renames.items()})
    taken = {fresh for fresh, _sure in renames.values()}
    changes = [TopicChange(before[old][0], after[fresh][0], sure) for old, (fresh, sure) in renames.items()]
    changes.extend(TopicChange(None, after[topic][0]) for topic in right if topic not in taken)
    changes.extend(TopicChange(before[topic][0], None) for topic in left if topic not in renames)
    return pairs, tuple(changes)


def _candidates(
    before: dict[str, tuple[str, set[date]]],
    after: dict[str, tuple[str, set[date]]],
    left: list[str],
    right: list[str],
) -> Iterable[tuple[tuple[int, float], str, str]]:
    """Give every possible rename with its strength: 2 a common day and rather alike, 1 alike, 0 a common day only."""
    for old in left:
        for fresh in right:
            likeness = fuzz.token_sort_ratio(old, fresh)
            together = bool(before[old][1] & after[fresh][1])
            if together and likeness >= _RATHER_ALIKE:
                yield (2, likeness), old, fresh
            elif likeness >= _ALIKE:
                yield (1, likeness), old, fresh
            elif together:
                yield (0, likeness), old, fresh


# --- entries


def _lessons(
    known: Sequence[LessonRow], new: Sequence[LessonRow], renames: dict[str, str]
) -> tuple[Change[LessonRow], ...]:
    """Pair lessons of the same topic: same day and time first, then same day, then in order of time."""

    def same_topic(one: LessonRow, other: LessonRow) -> bool:
        return renames.get(fold(one.topic)) == fold(other.topic)

    def same_day(one: LessonRow, other: LessonRow) -> bool:
        return same_topic(one, other) and one.day == other.day

    def same_time(one: LessonRow, other: LessonRow) -> bool:
        return same_day(one, other) and one.start == other.start

    return _pairs(known, new, (same_time, same_day, same_topic))


def _quiz_rounds() -> tuple[Callable[[QuizRow, QuizRow], bool], ...]:
    """Give the rounds for quizzes: same name and day; same name; same day; names alike."""
    return (
        lambda one, other: fold(one.name) == fold(other.name) and one.day == other.day,
        lambda one, other: fold(one.name) == fold(other.name),
        lambda one, other: one.day == other.day,
        lambda one, other: fuzz.token_sort_ratio(fold(one.name), fold(other.name)) >= _ALIKE,
    )


def _holiday_rounds() -> tuple[Callable[[HolidayRow, HolidayRow], bool], ...]:
    """Give the rounds for holidays: same days; common days; same name not far away."""
    return (
        lambda one, other: (one.first_day, one.last_day) == (other.first_day, other.last_day),
        lambda one, other: one.first_day <= other.last_day and other.first_day <= one.last_day,
        lambda one, other: (
            fold(one.name) == fold(other.name)
            and abs((one.first_day - other.first_day).days) <= _HOLIDAY_REACH_DAYS
        ),
    )


def _pairs(
    known: Sequence[R], new: Sequence[R], rounds: Sequence[Callable[[R, R], bool]]
) -> tuple[Change[R], ...]:
    """Pair entries in rounds, the strictest first; within a round, the earliest with the earliest."""
    free = sorted(known, key=lambda one: (_days(one), _start(one) or time(0), one.row))
    partner: dict[int, R] = {}
    order = sorted(range(len(new)), key=lambda index: (_days(new[index]), _start(new[index]) or time(0)))
    for fits in rounds:
        for index in order:
            if index in partner:
                continue
            found = next((one for one in free if fits(one, new[index])), None)
            if found is not None:
                partner[index] = found
                free.remove(found)
    kept = [Change[R](partner.get(index), row) for index, row in enumerate(new)]
    return tuple(kept + [Change[R](one, None) for one in free])


def _days(
    one: Entry,
) -> tuple[date, date]:
    if isinstance(one, HolidayRow):
        return one.first_day, one.last_day
    return one.day, one.day


def _start(one: Entry) -> time | None:
    return None if isinstance(one, HolidayRow) else one.start


def _title(one: Entry) -> str:
    return one.topic if isinstance(one, LessonRow) else one.name


def _content(
    one: Entry,
) -> tuple[object, ...]:
    """Give all that a teacher would call the entry, without its row or key."""
    if isinstance(one, LessonRow):
        return one.topic, one.day, one.start, one.end, one.homework
    if isinstance(one, QuizRow):
        return one.name, one.day, one.start, one.topics, one.kind
    return one.first_day, one.last_day, one.name
