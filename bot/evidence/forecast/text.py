"""The forecast as text that fits a phone's screen."""

from __future__ import annotations

from bot.evidence.doses.text import doses_text
from bot.evidence.effect.text import effect_line
from bot.evidence.forecast.numbers import Forecast, StudentForecast, TopicForecast, Why
from bot.evidence.shared.figures import ENOUGH, Standing
from bot.evidence.shared.phrases import about, briefly, stacked, title_of
from bot.evidence.week.text import few
from bot.words import Words
from bot.words.rich import Rich


def forecast_text(forecast: Forecast, words: Words) -> Rich:
    """Write the forecast: how the class will do, what to teach again, whom to talk to, how sure that is."""
    title = words.say("forecast.title", title=title_of(forecast.school_class), what=occasion(forecast, words))
    if forecast.overall is None:
        return stacked(title, words.say("forecast.unknown"))
    return stacked(
        title,
        _overall(forecast, words),
        effect_line(forecast.effect, words),
        doses_text(forecast.doses, words),
        _teach(forecast, words),
        _talk(forecast, words),
        words.say("forecast.unknown_students", n=forecast.unknown) if forecast.unknown else None,
        _not_yet(forecast, words),
        words.say("evidence.how_to_read"),
    )


def occasion(forecast: Forecast, words: Words) -> str:
    """Write what the forecast is for: ``Quiz Fri 11 Dec``, or the day alone."""
    kind = "date" if forecast.quiz is None else forecast.quiz.kind
    return words.text(f"forecast.{kind}", day=words.day(forecast.day))


def _overall(forecast: Forecast, words: Words) -> Rich:
    planned, stands = about(words, forecast.overall), about(words, forecast.overall_as_it_stands)
    line = words.say("forecast.overall", planned=planned[:1].upper() + planned[1:], stands=stands)
    if forecast.answers < ENOUGH * max(1, len(forecast.topics)):
        line = line + Rich.of(" ") + words.say("forecast.thin", n=forecast.answers)
    return line


def points(gain: float | None) -> int:
    """Return a gain in points of 100, whole."""
    return round(100.0 * (gain or 0.0))


def why(topic: TopicForecast, words: Words) -> str:
    """Write what speaks most for teaching a topic again."""
    key = {Why.BELOW_HALF: "below_half", Why.MANY_BELOW: "many_below", Why.FADES: "fades"}[topic.why]
    return words.text(f"forecast.why.{key}", below=topic.below, of=topic.of)


def _teach(forecast: Forecast, words: Words) -> Rich:
    if forecast.too_early:
        return words.say("forecast.teach_unknown", enough=ENOUGH)
    if not forecast.teach_again:
        return words.say("forecast.teach_none")
    topics = Rich()
    for topic in forecast.teach_again:
        figure, gain = about(words, topic.planned), points(topic.gain)
        line = words.say("forecast.topic", topic=topic.name, figure=figure, gain=gain, why=why(topic, words))
        topics = topics + Rich.of("; ") + line if topics.spans else line
    return words.say("forecast.teach", topics=topics)


def _talk(forecast: Forecast, words: Words) -> Rich:
    if not forecast.talk_to:
        return words.say(nobody_key(forecast))
    return words.say("forecast.talk_to", names=few([_named(row, words) for row in forecast.talk_to], words))


def nobody_key(forecast: Forecast) -> str:
    """Return why nobody is named: nobody stands low, or nothing can be told of anybody yet."""
    known = [row for row in forecast.students if row.active and row.standing is not Standing.TOO_FEW]
    return "forecast.talk_none" if known else "forecast.talk_unknown"


def _named(row: StudentForecast, words: Words) -> str:
    if row.standing is Standing.TOO_FEW:
        return words.text("forecast.few_student", name=row.name)
    return words.text("forecast.low_student", name=row.name, figure=briefly(row.planned))


def _not_yet(forecast: Forecast, words: Words) -> Rich | None:
    missing = sum(topic.of == 0 for topic in forecast.topics)
    return words.say("forecast.not_yet", n=missing) if missing else None
