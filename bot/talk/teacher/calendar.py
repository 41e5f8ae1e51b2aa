"""The calendar: lessons ahead, homework done or not, absences, holidays, quiz dates."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date

from bot.chat.port import Button, Message
from bot.talk.core import State, Step, answered, once, reply
from bot.talk.facts import Facts
from bot.talk.teacher.common import (
    Pressed,
    Typed,
    answer,
    at,
    at_home,
    do,
    gone,
    labelled,
    lines,
    number,
    of_class,
    press,
    rows_of,
    with_class,
)
from bot.talk.teacher.effects import (
    AddHoliday,
    DropHoliday,
    HomeworkListed,
    LeftStanding,
    ListHomework,
    MarkAbsent,
    MoveQuiz,
    SetHomework,
)
from bot.talk.teacher_facts import TeachingFacts
from bot.teaching.typed_days import read_days, read_span
from storage.values import HolidayInfo, LessonInfo, QuizInfo


def timetable(rest: str, state: State, facts: Facts, teaching: TeachingFacts) -> Step:
    """Show what comes next."""
    ahead = [(one.day, one.topic) for one in teaching.lessons if one.day >= teaching.today]
    ahead += [(one.day, _quiz_words(one, facts)) for one in teaching.quizzes if one.day >= teaching.today]
    ahead += [
        (one.first_day, _holiday_words(one, facts))
        for one in teaching.holidays
        if one.last_day >= teaching.today
    ]
    if not ahead:
        return answer(facts, at_home(facts, state), "nothing_ahead")
    shown = [f"{facts.words.day(day)}: {what}" for day, what in sorted(ahead)]
    return answer(facts, at_home(facts, state), "ahead", list=lines(facts, shown, most=12))


def _quiz_words(quiz: QuizInfo, facts: Facts) -> str:
    return quiz.name or facts.words.text(f"teacher.{quiz.kind}")


def _holiday_words(holiday: HolidayInfo, facts: Facts) -> str:
    return holiday.name or facts.words.text("teacher.holiday")


# ---------------------------------------------------------------- homework


def homework(rest: str, state: State, facts: Facts, teaching: TeachingFacts) -> Step:
    """Choose the homework whose list is to be seen or corrected."""
    given = [one for one in teaching.lessons if one.homework and one.day <= teaching.today]
    if not given:
        return answer(facts, at_home(facts, state), "no_homework")
    if len(given) == 1:
        return do(facts, state, ListHomework(teaching.class_id, given[0].id))
    buttons = [_lesson_button(one, "hwlist", teaching, facts) for one in reversed(given[-6:])]
    return answer(facts, at_home(facts, state), "which_homework", rows_of(buttons, 1))


def homework_pressed(args: Sequence[str], state: State, facts: Facts, teaching: TeachingFacts) -> Step:
    """Show the list of one homework."""
    lesson = number(args[0]) if args else None
    return gone(facts, state) if lesson is None else do(facts, state, ListHomework(teaching.class_id, lesson))


def homework_listed(result: HomeworkListed, state: State, facts: Facts) -> Step:
    """Show who did a homework; a press changes it."""
    buttons = [
        labelled(
            facts.words.text(
                f"teacher.hw.{'unknown' if done is None else 'done' if done else 'not'}", name=name
            ),
            "hw",
            result.class_id,
            result.lesson_id,
            who,
            int(not done),
        )
        for who, name, done in result.lines
    ]
    done = sum(1 for _, _, one in result.lines if one)
    said = facts.words.say("teacher.homework_list", topic=result.topic, done=done, n=len(result.lines))
    key = f"homework:{result.lesson_id}"
    return Step(
        at_home(facts, state), (), reply(Message(said, tuple(rows_of(buttons)), key=key, replaces=key))
    )


def homework_set(args: Sequence[str], state: State, facts: Facts, teaching: TeachingFacts) -> Step:
    """Note the teacher's word on one student's homework and show the list again."""
    numbers = [number(arg) for arg in args]
    if len(numbers) != 3 or None in numbers:
        return gone(facts, state)
    lesson, who, done = (value or 0 for value in numbers)
    effect = SetHomework(teaching.class_id, lesson, who, bool(done))
    return do(facts, state, effect, ListHomework(teaching.class_id, lesson))


# ---------------------------------------------------------------- absence


def absent(rest: str, state: State, facts: Facts, teaching: TeachingFacts) -> Step:
    """Note who missed the last lesson: by name, else by choosing."""
    past = [one for one in teaching.lessons if one.day <= teaching.today]
    if not past:
        return answer(facts, at_home(facts, state), "no_lesson_yet")
    if not rest:
        buttons = [_lesson_button(one, "missed", teaching, facts) for one in reversed(past[-4:])]
        return answer(facts, at_home(facts, state), "which_lesson", rows_of(buttons, 1))
    return _absent_by_name(rest, past[-1], state, facts, teaching)


def _absent_by_name(
    rest: str, lesson: LessonInfo, state: State, facts: Facts, teaching: TeachingFacts
) -> Step:
    meant, unknown = [], []
    for name in (part.strip() for part in rest.replace(" and ", ",").split(",") if part.strip()):
        found = teaching.student_named(name)
        if found is None:
            unknown.append(name)
        else:
            meant.append(found)
    if unknown:
        why = facts.words.say("teacher.student_unknown", names=facts.words.listed(unknown))
        return answer(facts, at_home(facts, state), "absent_unknown", why=why)
    effects = [MarkAbsent(teaching.class_id, lesson.id, one.id, True) for one in meant]
    return Step(
        at_home(facts, state),
        tuple(effects),
        reply(
            Message(
                facts.words.say(
                    "teacher.absent_noted",
                    names=facts.words.listed([one.name for one in meant]),
                    topic=lesson.topic,
                    day=facts.words.day(lesson.day),
                )
            )
        ),
    )


def missed(args: Sequence[str], state: State, facts: Facts, teaching: TeachingFacts) -> Step:
    """Show the students of a lesson; a press says who missed it."""
    lesson = teaching.lesson(number(args[0]) or 0) if args else None
    if lesson is None:
        return gone(facts, state)
    return _absence_list(lesson, teaching.absent(lesson.id), state, facts, teaching)


def absent_pressed(args: Sequence[str], state: State, facts: Facts, teaching: TeachingFacts) -> Step:
    """Note that a student missed a lesson, or did not, and show the list as it is then."""
    lesson = teaching.lesson(number(args[0]) or 0) if args else None
    who = teaching.student(number(args[1]) or 0) if len(args) > 1 else None
    if lesson is None or who is None:
        return gone(facts, state)
    away = teaching.absent(lesson.id)
    was_there = who.id not in away
    after = away | {who.id} if was_there else away - {who.id}
    shown = _absence_list(lesson, after, state, facts, teaching)
    return Step(shown.state, (MarkAbsent(teaching.class_id, lesson.id, who.id, was_there),), shown.messages)


def _absence_list(
    lesson: LessonInfo, away: frozenset[int], state: State, facts: Facts, teaching: TeachingFacts
) -> Step:
    buttons = [
        labelled(
            facts.words.text(f"teacher.absent.{'yes' if one.id in away else 'no'}", name=one.name),
            "absent",
            teaching.class_id,
            lesson.id,
            one.id,
        )
        for one in teaching.students
    ]
    said = facts.words.say(
        "teacher.absence", topic=lesson.topic, day=facts.words.day(lesson.day), n=len(away)
    )
    key = f"absent:{lesson.id}"
    out = Message(said, tuple(rows_of(buttons)), key=key, replaces=key)
    return Step(at_home(facts, state), (), reply(out))


# ---------------------------------------------------------------- holidays


def holiday(rest: str, state: State, facts: Facts, teaching: TeachingFacts) -> Step:
    """Add a holiday, or show those to come."""
    if rest:
        return holiday_typed(rest, state, facts)
    ahead = [one for one in teaching.holidays if one.last_day >= teaching.today]
    buttons = [
        press(
            facts,
            "drop_holiday",
            "noholiday",
            teaching.class_id,
            one.id,
            name=_holiday_words(one, facts),
            day=facts.words.day(one.first_day),
        )
        for one in ahead[:6]
    ]
    return answer(facts, at(facts, state, "teacher.holiday"), "ask_holiday", rows_of(buttons, 1))


def holiday_typed(text: str, state: State, facts: Facts) -> Step:
    """Take days without school, with a name after a comma or a colon if wanted."""
    teaching = facts.teaching
    if teaching is None:
        return gone(facts, state)
    when, name = _day_and_name(text, teaching.today)
    if when is None or when[1] < when[0]:
        return answer(facts, at(facts, state, "teacher.holiday"), "holiday_unread", text=text[:60])
    return do(facts, state, AddHoliday(teaching.class_id, when[0], when[1], name))


def _day_and_name(text: str, today: date) -> tuple[tuple[date, date] | None, str]:
    """Try the whole text, then ever fewer words as the days, the others as the name."""
    parts = text.split()
    for cut in range(len(parts), 0, -1):
        when = read_span(" ".join(parts[:cut]).rstrip(",:;"), today)
        if when is not None:
            return when, " ".join(parts[cut:])
    for cut in range(1, len(parts)):
        when = read_span(" ".join(parts[cut:]), today)
        if when is not None:
            return when, " ".join(parts[:cut]).rstrip(",:;")
    return None, ""


def no_holiday(args: Sequence[str], state: State, facts: Facts, teaching: TeachingFacts) -> Step:
    """Take a holiday away."""
    which = number(args[0]) if args else None
    return gone(facts, state) if which is None else do(facts, state, DropHoliday(teaching.class_id, which))


def left_standing(result: LeftStanding, state: State, facts: Facts) -> Step:
    """Say what stands on days that have no school any more."""
    shown = [
        f"{facts.words.day(day)}: {name or facts.words.text(f'teacher.{kind}')}"
        for day, kind, name in result.planned
    ]
    some_quiz = any(kind != "lesson" for _, kind, _ in result.planned)
    said = "left_standing_quiz" if some_quiz else "left_standing"
    return answer(facts, state, said, list=lines(facts, shown, most=12))


# ---------------------------------------------------------------- quizzes


def quiz(rest: str, state: State, facts: Facts, teaching: TeachingFacts) -> Step:
    """Show the quizzes to come; a press moves one."""
    ahead = [one for one in teaching.quizzes if one.day >= teaching.today]
    if not ahead:
        return answer(facts, at_home(facts, state), "no_quiz")
    days = read_days(rest, teaching.today) if rest else ()
    if len(days) == 1:
        return _moved(ahead[0], days[0], state, facts, teaching)
    shown = [
        facts.words.text(
            "teacher.quiz_line", day=facts.words.day(one.day), name=_quiz_words(one, facts), n=len(one.topics)
        )
        for one in ahead
    ]
    buttons = [
        press(facts, "move_quiz", "movequiz", teaching.class_id, one.id, day=facts.words.day(one.day))
        for one in ahead[:6]
    ]
    return answer(
        facts, at_home(facts, state), "quizzes", rows_of(buttons, 1), list=lines(facts, shown, most=6)
    )


def move_quiz(args: Sequence[str], state: State, facts: Facts, teaching: TeachingFacts) -> Step:
    """Ask for the new day of a quiz."""
    found = teaching.quiz(number(args[0]) or 0) if args else None
    if found is None:
        return gone(facts, state)
    after = at(facts, state, "teacher.quizday", quiz=found.id)
    return answer(facts, after, "ask_quiz_day", name=_quiz_words(found, facts))


def quiz_day(text: str, state: State, facts: Facts) -> Step:
    """Take the new day of a quiz; one that could be two days is asked about."""
    teaching = facts.teaching
    found = teaching.quiz(state.data.get("quiz", 0)) if teaching else None
    if teaching is None or found is None:
        return gone(facts, state)
    days = read_days(text, teaching.today)
    if not days:
        return answer(facts, state, "day_unread", text=text[:60])
    if len(days) == 2:
        buttons = [
            labelled(facts.words.day(day), "quizday", teaching.class_id, found.id, day.toordinal())
            for day in days
        ]
        return answer(facts, state, "which_day", [buttons], key=once("quizday", found.id))
    return _moved(found, days[0], state, facts, teaching)


def quiz_day_pressed(args: Sequence[str], state: State, facts: Facts, teaching: TeachingFacts) -> Step:
    """Take the chosen one of two days."""
    found = teaching.quiz(number(args[0]) or 0) if args else None
    day = number(args[1]) if len(args) > 1 else None
    if found is None or day is None or not 700_000 < day < 800_000:
        return gone(facts, state)
    return _moved(found, date.fromordinal(day), state, facts, teaching)


def _moved(found: QuizInfo, day: date, state: State, facts: Facts, teaching: TeachingFacts) -> Step:
    if day < teaching.today:
        return answer(
            facts, at(facts, state, "teacher.quizday", quiz=found.id), "day_past", day=facts.words.day(day)
        )
    moved = do(facts, state, MoveQuiz(teaching.class_id, found.id, day))
    return answered(moved, f"quizday:{found.id}", facts.words.day(day))


# ---------------------------------------------------------------- within


def _lesson_button(lesson: LessonInfo, verb: str, teaching: TeachingFacts, facts: Facts) -> Button:
    return labelled(f"{facts.words.day(lesson.day)}: {lesson.topic}", verb, teaching.class_id, lesson.id)


COMMANDS: Mapping[str, Typed] = {
    "timetable": with_class(timetable),
    "homework": with_class(homework),
    "absent": with_class(absent),
    "holiday": with_class(holiday),
    "quiz": with_class(quiz),
}
STATES: Mapping[str, Typed] = {"teacher.holiday": holiday_typed, "teacher.quizday": quiz_day}
BUTTONS: Mapping[str, Pressed] = {
    "hwlist": of_class(homework_pressed),
    "hw": of_class(homework_set),
    "missed": of_class(missed),
    "absent": of_class(absent_pressed),
    "noholiday": of_class(no_holiday),
    "movequiz": of_class(move_quiz),
    "quizday": of_class(quiz_day_pressed),
}
