"""A class for weeks in the town: files that a teacher sends, and students with habits. All of it is invented."""

from __future__ import annotations

import csv
import random
import re
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta

from sqlmodel import Session, col, select

from storage.tables import Answer, Enrolment
from tests.servers.botapi import Sent
from tests.town import Deed, Phone, Town, code_in, texts

FRIDAY = datetime(2026, 11, 27, 15, 30, tzinfo=UTC)
"""When the class is set up; London keeps UTC in winter."""

CLASS, TEACHER, CHANNEL = "10B Physics", 2002, -1001234

TIMETABLE = """date,topic,kind,start,homework
2026-11-16,Springs,lesson,09:00,
2026-11-18,Density,lesson,09:00,
2026-11-20,Speed,lesson,09:00,
2026-11-23,Moments,lesson,09:00,
2026-11-25,Levers,lesson,09:00,
2026-11-30,Pressure,lesson,09:00,p. 41
2026-12-02,Floating,lesson,09:00,
2026-12-11,Quiz 1,quiz,09:00,
"""

QUESTIONS = """topic,question,answer,also accepted,wrong options,tolerance,unit,explanation
Springs,A spring stretches 4 cm under 2 N. How far under 5 N?,10 cm,,8 cm; 12 cm; 2.5 cm,,,Each newton stretches it by 2 cm.
Springs,A spring stretches 3 cm under 6 N. What is its constant?,2,,,2 %,N/cm,6 N shared by 3 cm.
Density,A block of 54 g fills 20 cm³. What is its density?,2.7,,,2 %,g/cm³,54 g shared by 20 cm³.
Density,Which floats on water?,oak,,iron; glass; lead,,,Only oak is less dense than water.
Speed,A cyclist covers 60 m in 12 s. How fast is she?,5 m/s,,0.2 m/s; 12 m/s; 720 m/s,,,Distance over time.
Speed,A train covers 150 km in 2 hours. What is its mean speed?,75,,,2 %,km/h,150 km shared by 2 h.
Moments,A force of 6 N acts 0.5 m from the pivot. What is its moment?,3,,,2 %,N m,Force times distance.
Moments,What balances a turning effect?,an equal and opposite moment,,a larger mass; a longer rod; friction,,,Moments cancel.
Levers,What do we call the point about which a lever turns?,pivot,fulcrum,,,,Everything turns about the pivot.
Levers,Where does a lever need the least force?,far from the pivot,,at the pivot; near the pivot,,,A long arm needs little force.
Pressure,A force of 20 N acts on 4 m². What is the pressure?,5,,,2 %,Pa,Force shared by area.
Pressure,How does pressure change with depth in water?,it rises,,it falls; it stays; it falls to zero,,,More water lies above.
Floating,What pushes a ship up?,the water it displaces,,the air in it; its weight,,,The displaced water's weight.
"""  # noqa: E501 - rows of a table

POST = "New topic: Stored energy\nWhat is the energy in a stretched spring called? / elastic energy"
"""What the teacher posts in the channel."""

ANSWERS = {row["question"]: row["answer"] for row in csv.DictReader(QUESTIONS.splitlines())}
ANSWERS["What is the energy in a stretched spring called?"] = "elastic energy"
UNITS = {"2": "N/cm", "2.7": "g/cm³", "75": "km/h", "3": "N m", "5": "Pa"}

NAMES = ("Mira", "Theo", "Ada", "Jonas", "Leila", "Sam", "Nora", "Ivan")


@dataclass
class Student:
    """A phone and habits.

    Attributes
    ----------
    habit : str
        ``taps`` and ``types`` answer; ``snoozes`` puts off first; ``ignores`` never answers; ``blocks`` answers once,
        then blocks the bot.
    answered : dict of int to str
        What was said first to each question instance: what the record has to agree with.
    copies : int
        How often a second copy of a question was seen and its button pressed as well.
    """

    phone: Phone
    habit: str
    rng: random.Random
    code: str = ""
    knows: float = 0.7
    answered: dict[int, str] = field(default_factory=dict)
    copies: int = 0
    is_gone: bool = False
    _seen: set[tuple[object, ...]] = field(default_factory=set)
    _done: set[str] = field(default_factory=set)

    def look(self) -> None:
        """Look at the phone, and plan what to do about what is new there."""
        for sent in self.phone.shown:
            news = (sent.message_id, *sent.buttons)  # a message that was edited has other buttons
            if not self.is_gone and sent.buttons and news not in self._seen:
                self._seen.add(news)
                self._react(sent)

    def pass_over(self) -> None:
        """Take what is on the phone as dealt with."""
        self._seen |= {(sent.message_id, *sent.buttons) for sent in self.phone.shown}

    def _react(self, sent: Sent) -> None:
        labels = sent.buttons
        if "I agree" in labels:
            self._later(5, 60, lambda: self._press_once(sent, "I agree"))
        elif self.phone.name in labels:
            self._later(3, 30, lambda: self._press_once(sent, self.phone.name))
        elif "Another time" in labels:
            self._later(3, 20, lambda: self._press_once(sent, "18:00"))
        elif self.habit != "ignores":
            self._react_to_question(sent)

    def _react_to_question(self, sent: Sent) -> None:
        labels = sent.buttons
        if "Not sure" in labels:
            self._later(5, 60, lambda: self._answer(sent))
        elif self.habit == "snoozes" and "In an hour" in labels:
            self._later(30, 40, lambda: self._press(sent, "In an hour"))
        elif "Start" in labels:
            self._later(20, 900, lambda: self._press(sent, "Start"))

    def _later(self, soonest_s: int, latest_s: int, deed: Deed) -> None:
        self.phone.town.later(timedelta(seconds=self.rng.randint(soonest_s, latest_s)), deed)

    def _press(self, sent: Sent, label: str) -> None:
        if any(one.startswith(label) for one in sent.buttons):
            self.phone.town.api.press(self.phone.id, sent, label)

    def _press_once(self, sent: Sent, label: str) -> None:
        if label not in self._done:
            self._done.add(label)
            self._press(sent, label)

    def _answer(self, sent: Sent) -> None:
        if not sent.buttons:
            return  # answered by now, or over
        review = review_of(sent)
        lettered = [label for label in sent.buttons if re.match(r"[A-H]\s", label)]
        if review in self.answered:
            self.copies += 1
            self._press(sent, lettered[0] if lettered else "Not sure")
            return
        self.answered[review] = self._chosen(sent, lettered) if lettered else self._typed(sent)
        if self.habit == "blocks":
            self.is_gone = True
            self._later(30, 40, lambda: self.phone.town.api.block(self.phone.id))

    def _chosen(self, sent: Sent, lettered: list[str]) -> str:
        right = ANSWERS[prompt_of(sent)]
        good = [label for label in lettered if right in label]
        wrong = [label for label in lettered if right not in label]
        label = self.rng.choice(good if good and self.rng.random() < self.knows else wrong)
        if self.habit == "types":
            self.phone.town.api.say(self.phone.id, label[0].lower())
        else:
            self._press(sent, label)
        return label[2:].strip()

    def _typed(self, sent: Sent) -> str:
        right = ANSWERS[prompt_of(sent)]
        value = right if self.rng.random() < self.knows else "7"
        text = f"{value} {UNITS.get(right, '')}".strip()
        self.phone.town.api.say(self.phone.id, text)
        return text


def prompt_of(sent: Sent) -> str:
    """Return the question that a message asks."""
    return next(prompt for prompt in ANSWERS if prompt in sent.text)


def review_of(sent: Sent) -> int:
    """Return which question instance a message is, by its button "Not sure"."""
    data = [button["callback_data"] for row in sent.keyboard for button in row]
    return int(next(one for one in data if ":unsure:" in one).split(":")[2])


async def open_class(town: Town, teacher: Phone) -> str:
    """Let a teacher become one, make a class and send its files; return the code for students."""
    await teacher.says(f"/start {await town.teacher_code()}")
    await teacher.says(CLASS)
    await teacher.says("Physics")
    await teacher.says("Ms Okafor")
    code = code_in(texts(await teacher.presses("Europe/London")))
    for name, data in (("timetable.csv", TIMETABLE), ("questions.csv", QUESTIONS)):
        read = await teacher.sends(name, data.encode())
        assert "Nothing is stored yet" in texts(read), texts(read)
        assert "Done:" in texts(await teacher.presses("Use it")), texts(teacher.shown[-2:])
    return code


async def join(phone: Phone, code: str) -> None:
    """Let a student join by the deep link, as Telegram turns it into a message."""
    await phone.says(f"/start {code}")
    await phone.presses("I agree")
    await phone.says(phone.name)
    await phone.says("18:00")


def answers_on_record(session: Session) -> dict[str, dict[int, str]]:
    """Return what each student said to which question instance, as the database has it."""
    asked = select(Enrolment.name, Answer.review_id, Answer.given).join(
        Enrolment, col(Enrolment.id) == col(Answer.enrolment_id)
    )
    found: dict[str, dict[int, str]] = {}
    for name, review, given in session.exec(asked):
        found.setdefault(name, {})[review] = given
    return found
