"""What a conversation may know: plain values, loaded afresh for every step."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import date, datetime

from bot.chat.port import Place
from bot.talk.student_facts import Learned, Learning
from bot.talk.teacher_facts import TeachingFacts
from bot.words import Words
from storage.values import ClassInfo


@dataclass(frozen=True, slots=True)
class StudentFacts:
    """The speaker's own place in a class."""

    id: int
    school_class: ClassInfo
    name: str
    state: str
    zone: str
    nudge_minute: int
    paused_until: date | None


@dataclass(frozen=True, slots=True)
class Facts:
    """Who speaks, where, when, and what is theirs.

    Attributes
    ----------
    now : datetime
        The moment of the step, aware UTC.
    words : Words
        Texts in the speaker's language.
    person_id : int or None
        None for somebody we have not agreed anything with.
    students : tuple of StudentFacts
        The classes that the speaker is a student of (not those left).
    teaches : tuple of ClassInfo
        The classes that the speaker teaches.
    staff : bool
        Whether the speaker may create classes.
    channel : ClassInfo or None
        The class that the place is bound to, when it was said in a channel or group.
    address : str
        The chat or room in which it was said.
    invited : ClassInfo or None
        The class whose code the speaker has shown and not yet joined.
    invited_by : tuple of str
        The names of its teachers.
    learning : Learning
        The speaker's own reviews.
    teaching : TeachingFacts or None
        The class that a teacher is at work on; None for everybody else.
    home_zone : str
        The zone proposed for a new class.
    hearers : mapping of int to Words
        Texts for each person who is told of the event besides the speaker (`bot.talk.core.Result.hearers`).
    """

    now: datetime
    words: Words
    platform: str
    user: str
    place: Place
    person_id: int | None = None
    students: tuple[StudentFacts, ...] = ()
    teaches: tuple[ClassInfo, ...] = ()
    staff: bool = False
    channel: ClassInfo | None = None
    address: str = ""
    invited: ClassInfo | None = None
    invited_by: tuple[str, ...] = ()
    learning: Learning = field(default_factory=Learned)
    teaching: TeachingFacts | None = None
    home_zone: str = "UTC"
    hearers: Mapping[int, Words] = field(default_factory=dict)

    def to(self, person_id: int | None) -> Facts:
        """Return the facts with the words for somebody who is told; None for whoever the step answers.

        Raises
        ------
        KeyError
            The event does not say that it tells them: a defect.
        """
        return self if person_id is None else replace(self, words=self.hearers[person_id])

    @property
    def roles(self) -> frozenset[str]:
        """Which of ``stranger``, ``student``, ``teacher`` the speaker is. The database alone decides."""
        found = set()
        if self.students:
            found.add("student")
        if self.teaches or self.staff:
            found.add("teacher")
        return frozenset(found or {"stranger"})
