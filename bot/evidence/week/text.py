"""The weekly completion report as text that fits a phone's screen."""

from __future__ import annotations

from collections.abc import Sequence

from bot.evidence.doses.text import target_text, too_small
from bot.evidence.effect.text import effect_line
from bot.evidence.shared.figures import ENOUGH, Standing
from bot.evidence.shared.phrases import about, counted, percent, rounded, span, stacked, title_of
from bot.evidence.week.values import Note, Reason, TopicWeek, WeekReport
from bot.words import Words
from bot.words.rich import Rich
from scheduler.calendar.school_days import local_day
from storage.values import QuizInfo

NAMED = 6
"""Names in one line of the text; the workbook has everybody."""

CLASS_FEWEST = 5
"""Fewest students behind anything that a class is shown."""


NEARLY_ALL = 0.9
"""Share of questions answered from which it is nearly all of them. Chosen."""


class TooFewStudents(ValueError):
    """A figure for a class channel would rest on too few students to stay nobody's own."""


def week_text(report: WeekReport, words: Words) -> Rich:
    """Write the report: who answered, whom to talk to, what to teach again, how sure that is."""
    title = words.say(
        "week.title",
        title=title_of(report.school_class),
        week=report.week,
        span=span(words, report.first_day, report.last_day),
    )
    if not report.totals.asked and not report.totals.extra:
        return stacked(title, words.say("week.nothing_asked"), *_quiz_lines(report, words))
    return stacked(
        title,
        _answered(report, words),
        effect_line(report.effect, words),
        *_talk_to(report, words),
        *_quiz_lines(report, words),
        _dose(report, words),
        *_good(report, words),
        words.say("evidence.how_to_read"),
    )


def _dose(report: WeekReport, words: Words) -> Rich | None:
    """Write that the dose is too small for the timetable, or for the class's target."""
    if report.target is not None:
        return target_text(report.target, words)
    return None if report.dose is None else too_small(report.dose, words)


def quiz_name(quiz: QuizInfo, words: Words) -> str:
    """Write ``the quiz on Fri 11 Dec``."""
    return words.text(f"week.the_{quiz.kind}", day=words.day(quiz.day))


def class_channel_summary(report: WeekReport, words: Words, fewest: int = CLASS_FEWEST) -> Rich:
    """Write what a class may see of its own week: figures over at least `fewest` students, no name, no topic.

    What a figure leaves over points at people as well: with 23 of 24, everybody knows who asks about the last one. So
    a remainder of under `fewest` students is "nearly all", and so is none, or "nearly all" would mean that somebody
    is missing. Shares of questions are rounded to five of a hundred.

    Raises
    ------
    TooFewStudents
        When fewer students were asked or answered.
    """
    totals = report.totals
    asked = sum(row.asked > 0 for row in report.students)
    if asked < fewest or totals.answered_once < fewest:
        raise TooFewStudents(words.text("channel.too_few", fewest=fewest))
    key = "channel.nearly_all" if totals.students - totals.answered_once < fewest else "channel.some"
    part = _part_answered(report, words, fewest)
    who = words.text(key, once=totals.answered_once, students=totals.students, part=part)
    return words.say("channel.week", title=title_of(report.school_class), week=report.week, who=who)


def _part_answered(report: WeekReport, words: Words, fewest: int) -> str:
    """Write the share of questions answered; nothing where it would say what under `fewest` students did."""
    answering = sum(row.answered > 0 for row in report.students)
    missing = sum(row.answered < row.asked for row in report.students)
    share = report.totals.answered / max(report.totals.asked, 1)
    if missing < fewest:
        return words.text("channel.part_nearly_all") if share >= NEARLY_ALL else ""
    if answering < fewest:
        return ""
    return words.text("channel.part", share=words.about(share))


def _answered(report: WeekReport, words: Words) -> Rich:
    totals = report.totals
    parts = [
        words.say(
            "week.answered",
            once=totals.answered_once,
            students=totals.students,
            answered=totals.answered,
            asked=totals.asked,
            on_time=totals.on_time,
        )
    ]
    before = totals.completion_before.value
    if totals.trend != "unknown" and before is not None:
        parts.append(words.say(f"week.trend.{totals.trend}", before=percent(before)))
    if report.running and totals.waiting:
        parts.append(words.say("week.waiting", n=totals.waiting))
    if totals.right.of:
        parts.append(words.say("week.right", figure=counted(words, totals.right)))
    return _sentences(parts)


def _sentences(parts: Sequence[Rich]) -> Rich:
    result = Rich()
    for part in parts:
        result = result + Rich.of(" ") + part if result.spans else part
    return result


def _talk_to(report: WeekReport, words: Words) -> list[Rich]:
    lines = []
    for reason, key in ((Reason.UNANSWERED, "week.silent"), (Reason.SLOWER, "week.slower")):
        names = [note.name for note in report.talk_to if note.reason is reason]
        if names:
            lines.append(words.say(key, names=few(names, words)))
    low = [note.name for note in report.talk_to if note.reason is Reason.BELOW_HALF]
    if low and report.quiz:
        lines.append(words.say("week.low", quiz=quiz_name(report.quiz, words), names=few(low, words)))
    if report.paused:
        lines.append(words.say("week.paused", names=few(report.paused, words)))
    return lines or [words.say("week.nobody")]


def few(names: Sequence[str], words: Words) -> str:
    """Join names; many are cut, with how many more there are."""
    if len(names) <= NAMED:
        return words.listed(list(names))
    return words.listed([*names[:NAMED], words.text("evidence.more", n=len(names) - NAMED)])


def _quiz_lines(report: WeekReport, words: Words) -> list[Rich]:
    if report.quiz is None:
        return [words.say("week.no_quiz")]
    quiz = quiz_name(report.quiz, words)
    if report.below_half:
        topics = Rich()
        for row in report.below_half[:3]:
            topics = topics + (Rich.of(", ") if topics.spans else Rich()) + _below(row, words)
        if len(report.below_half) > 3:
            topics = topics + Rich.of(", " + words.text("evidence.more", n=len(report.below_half) - 3))
        return [words.say("week.below", quiz=quiz, topics=topics)]
    covered = [row for row in report.topics if row.in_quiz]
    unknown = [row.name for row in covered if row.standing is Standing.TOO_FEW]
    if len(unknown) == len(covered):
        return [words.say("week.below_unknown", quiz=quiz, enough=ENOUGH)]
    if unknown:
        return [words.say("week.below_none_yet", quiz=quiz, topics=few(unknown, words))]
    return [words.say("week.below_none", quiz=quiz)]


def _below(row: TopicWeek, words: Words) -> Rich:
    topic = words.say("week.below_topic", topic=row.name, figure=about(words, row.quiz))
    return topic if row.standing is Standing.BELOW else words.say("week.perhaps", topic=topic)


def _good(report: WeekReport, words: Words) -> list[Rich]:
    keys = {Reason.BACK: "week.good.back", Reason.MORE: "week.good.more", Reason.BETTER: "week.good.better"}
    named = [
        words.text(keys[note.reason], name=note.name) for note in report.congratulate if note.reason in keys
    ]
    lines = [words.say("week.good", names=few(named, words))] if named else []
    steady = report.totals.all_on_time
    return [*lines, words.say("week.good.all", n=steady)] if steady else lines


def note_reason(note: Note, words: Words, zone: str) -> str:
    """Write in a few words why a student is named, for the picture and the workbook."""
    match note.reason:
        case Reason.UNANSWERED if note.since is not None:
            return words.text("week.picture.since", day=words.day(local_day(note.since, zone)))
        case Reason.UNANSWERED:
            return words.text("week.picture.silent", n=round(note.value))
        case Reason.SLOWER:
            return words.text(
                "week.picture.slower", now=duration(note.value, words), usual=duration(note.against, words)
            )
        case Reason.BELOW_HALF:
            return words.text("week.picture.low", value=words.about(note.value))
        case _:
            return words.text(f"week.picture.good.{note.reason.name.lower()}", n=1)


def duration(hours: float, words: Words) -> str:
    """Write a duration rounded to what it is worth: ``20 minutes``, ``6 hours``."""
    if hours < 1.0:
        return words.text("week.minutes", n=max(5, 5 * round(hours * 12)))
    return words.text("week.hours", n=round(hours))


def topic_figure(row: TopicWeek, words: Words) -> str:
    """Write a topic's prediction for the quiz, or that there is too little to tell."""
    if row.quiz is None or row.standing is Standing.TOO_FEW:
        return words.text("evidence.too_few")
    return f"{rounded(row.quiz)}\u00a0%"
