"""The invented people of the demo: what they say to what they read.

A student's memory is a simulated learner that the program knows nothing about (`scheduler.simulation.learners`);
what is right or wrong follows from it. All else is habit: how soon one answers, whether at all, how one writes numbers.
"""

from __future__ import annotations

import random
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta

from bot.chat.port import Button, ButtonPressed, FileSent, Message, TextSaid
from bot.demo.chat import Saying
from bot.demo.school import DemoSchool
from bot.grading.kinds import KINDS
from scheduler.simulation import Learner
from storage.files.csv_out import write_csv
from storage.files.values import QuestionRow

UNSURE = 0.3
"""How often one who does not know says so instead of trying."""

HOMEWORK = 0.7
"""How often homework is done."""


@dataclass
class StudentMind:
    """A student: a memory, a phone, habits."""

    name: str
    learner: Learner
    school: DemoSchool
    rng: random.Random
    attended: int = 0

    def hears(self, message: Message, now: datetime) -> Iterable[Saying]:
        """Answer questions, join when invited, start or ignore a nudge."""
        self.go_to_school(now)
        if message.key.startswith("review:"):
            return self._answer(message, now) if message.all_buttons else []
        still_there = _buttons(message, "student:resume")
        if still_there:
            return [self._press(still_there[0], 60, 7200)]
        if any(button.action.startswith("student:") for button in message.all_buttons):
            return self._nudged(message, now)
        return self._join(message)

    def go_to_school(self, now: datetime) -> None:
        """Attend the lessons that have taken place since the last time."""
        while self.attended < len(self.school.lessons) and self.school.lessons[self.attended][0] <= now:
            at, topic = self.school.lessons[self.attended]
            self.learner.attend(topic, at)
            self.attended += 1

    # ------------------------------------------------------------ joining

    def _join(self, message: Message) -> list[Saying]:
        offered = {button.action: button for button in message.all_buttons}
        if "joining:agree" in offered:
            return [self._press(offered["joining:agree"], 5, 60)]
        if "joining:suggested" in offered:
            return [Saying(self._between(3, 30), TextSaid(self.name))]
        mine = _buttons(message, "joining:roster:")
        if mine:
            return [self._press(next((one for one in mine if one.label == self.name), mine[-1]), 3, 20)]
        times = _buttons(message, "joining:time:")
        return [self._press(self.rng.choice(times), 3, 20)] if times else []

    # ------------------------------------------------------------ nudges and questions

    def _nudged(self, message: Message, now: datetime) -> list[Saying]:
        """Say whether the homework is done, then start; or do neither."""
        if self.rng.random() >= self.learner.responsiveness:
            return []
        said = []
        homework = _buttons(message, "student:homework:")
        for done, not_done in zip(homework[::2], homework[1::2], strict=True):
            worked = self.rng.random() < HOMEWORK
            if worked:
                self.learner.attend(self.school.lessons[self.attended - 1][1], now)
            said.append(self._press(done if worked else not_done, 10, 25))
        for start in _buttons(message, "student:start:"):
            said.append(self._press(start, 30, 3600))
        return said

    def _answer(self, message: Message, now: datetime) -> list[Saying]:
        row = self._recognise(message)
        if row is None:
            return []
        chance = 1 / (1 + len(row.wrong_options)) if row.wrong_options else 0.0
        if self.learner.answer(row.topic, now, chance):
            return [self._right(row, message)]
        if self.rng.random() < UNSURE:
            unsure = [button for button in message.all_buttons if ":unsure:" in button.action]
            return [self._press(unsure[0], 8, 60)]
        return [self._wrong(row, message)]

    def _recognise(self, message: Message) -> QuestionRow | None:
        text = message.text.plain
        found = [row for prompt, row in self.school.sheet.items() if prompt in text]
        return max(found, key=lambda row: len(row.prompt), default=None)

    def _right(self, row: QuestionRow, message: Message) -> Saying:
        if KINDS[row.kind].is_tapped:
            return self._press(self._option(message, row.answer), 5, 45)
        return Saying(self._between(10, 90), TextSaid(self._written(row)))

    def _wrong(self, row: QuestionRow, message: Message) -> Saying:
        if KINDS[row.kind].is_tapped:
            return self._press(self._option(message, self.rng.choice(row.wrong_options)), 5, 45)
        if KINDS[row.kind].is_figure:
            wrong = float(row.answer) * self.rng.choice([0.1, 0.5, 2.0, 10.0])
            return Saying(self._between(10, 90), TextSaid(f"{wrong:g} {row.unit or ''}".strip()))
        return Saying(
            self._between(10, 90), TextSaid("something else" if KINDS[row.kind].ignores_case else "x+1")
        )

    def _written(self, row: QuestionRow) -> str:
        """Write a right answer as people do: with a comma, without a blank, in other words."""
        if KINDS[row.kind].is_figure:
            number = row.answer.replace(".", ",") if self.rng.random() < 0.3 else row.answer
            return f"{number}{self.rng.choice([' ', ''])}{row.unit or ''}".strip()
        if KINDS[row.kind].ignores_case:
            return self.rng.choice((row.answer, *row.alternatives)).lower()
        return row.answer.replace("*", self.rng.choice(["*", " * ", "·"]))

    # ------------------------------------------------------------ phone

    def _option(self, message: Message, text: str) -> Button:
        return next(button for button in message.all_buttons if button.letter and button.label == text)

    def _press(self, button: Button, soonest_s: float, latest_s: float) -> Saying:
        return Saying(self._between(soonest_s, latest_s), ButtonPressed(button.action))

    def _between(self, soonest_s: float, latest_s: float) -> timedelta:
        return timedelta(seconds=self.rng.uniform(soonest_s, latest_s))


def _buttons(message: Message, prefix: str) -> list[Button]:
    return [button for button in message.all_buttons if button.action.startswith(prefix)]


@dataclass
class TeacherMind:
    """The teacher: marks quizzes, sends the scores the day after, and says yes to what was read without problems."""

    school: DemoSchool
    learners: Mapping[str, Learner]
    rng: random.Random

    def hears(self, message: Message, now: datetime) -> Iterable[Saying]:
        """Use a file that was read."""
        use = _buttons(message, "teacher:use:")
        return [Saying(timedelta(seconds=40), ButtonPressed(use[0].action))] if use else []

    def plans(self, now: datetime) -> Iterable[Saying]:
        """Return what the teacher will send: the scores of each quiz, the day after it."""
        for at, name, _topics in self.school.quizzes:
            if at > now:
                sheet = FileSent(name, "scores.csv", "text/csv", 2000, "scores")
                yield Saying(at + timedelta(days=1, hours=5) - now, sheet)

    def marks(self, quiz: str) -> bytes:
        """Return the score sheet of a quiz: one question on each topic, answered without help."""
        at, _name, topics = next(one for one in self.school.quizzes if one[1] == quiz)
        rows = [["student", "quiz", "score", "out of"]]
        for student, learner in self.learners.items():
            right = sum(self.rng.random() < learner.recall(topic, at) for topic in topics)
            rows.append([student, quiz, str(right), str(len(topics))])
        return write_csv(rows)
