"""A student's own settings: pause, time of day, quiet hours, zone."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, timedelta

from bot.chat.port import Button, Message
from bot.talk.core import State, Step, answered
from bot.talk.facts import Facts
from bot.talk.student.common import button, home_zone, menu_of, number, say, stay, step
from bot.talk.student.effects import Changed, NotChanged, Pause, Resume, SetTimes
from bot.talk.zones import zones_named
from bot.teaching.typed_days import days_ahead, read_span
from bot.teaching.typed_times import minute_of_day, minutes_between
from bot.words import typed
from scheduler.calendar.quiet_hours import in_quiet_hours
from scheduler.calendar.zones import DAY_MIN, local_day

PAUSING, TIME, QUIET, ZONE = "student.pausing", "student.time", "student.quiet", "student.zone"
OFFERED_MINUTES = (16 * 60 + 30, 18 * 60, 19 * 60 + 30)


def _asking(state: State, name: str) -> State:
    kept = {key: state.data[key] for key in ("class",) if key in state.data}
    return State(name, kept)


# ---------------------------------------------------------------- pause


def on_pause(state: State, text: str, facts: Facts) -> Step:
    """Pause; ask for how long if that was not said."""
    if text:
        return pausing_text(state, text, facts)
    buttons = (
        (
            button(facts, "student.button.pause_week", "student:pause:7"),
            button(facts, "student.button.pause_weeks", "student:pause:14"),
            button(facts, "student.button.pause_open", "student:pause:0"),
        ),
    )
    return stay(_asking(state, PAUSING), menu_of(facts, "pause", "student.pause", buttons))


LONGEST_PAUSE_DAYS = 366
"""Whoever is away for longer leaves, or pauses without an end."""


def pausing_button(state: State, parts: list[str], facts: Facts) -> Step:
    """Take how long: ``student:pause:DAYS``, 0 until resumed."""
    days = number(parts[0]) if parts else None
    today = local_day(facts.now, home_zone(facts))
    if days is None or days > LONGEST_PAUSE_DAYS:
        return step(state, facts, say(facts, "not_yours"))
    return step(state, facts, effects=[Pause(today + timedelta(days=days) if days else None)])


def pausing_text(state: State, text: str, facts: Facts) -> Step:
    """Take a typed day or stretch; ask back where it can be two days, or begins later than now."""
    today = local_day(facts.now, home_zone(facts))
    until = _ends(text, today)
    if len(until) == 1:
        return step(state, facts, effects=[Pause(until[0])])
    if until:
        return _which_end(state, until, facts, "student.pause.which")
    after = _after_span(text, today)
    if after is None:
        return stay(_asking(state, PAUSING), say(facts, "student.pause.unreadable"))
    return _which_end(state, (after,), facts, "student.pause.at_once")


def _ends(text: str, today: date) -> tuple[date, ...]:
    """Return the days that a pause may end on, of those that a text can mean."""
    return tuple(day for day in days_ahead(text, today) if (day - today).days <= LONGEST_PAUSE_DAYS)


def _after_span(text: str, today: date) -> date | None:
    """Return the day after a typed span of days that is not over."""
    span = read_span(text, today)
    if span is None or not 0 < (span[1] - today).days < LONGEST_PAUSE_DAYS:
        return None
    return span[1] + timedelta(days=1)


def _which_end(state: State, days: Sequence[date], facts: Facts, key: str) -> Step:
    """Offer the days on which a pause may end."""
    today = local_day(facts.now, home_zone(facts))
    row = tuple(Button(facts.words.long_day(day), f"student:pause:{(day - today).days}") for day in days)
    return stay(_asking(state, PAUSING), menu_of(facts, "pause", key, (row,)))


def on_resume(state: State, text: str, facts: Facts) -> Step:
    """Go on."""
    del text
    return step(state, facts, effects=[Resume()])


# ---------------------------------------------------------------- times


def on_time(state: State, text: str, facts: Facts) -> Step:
    """Choose the time of day of the nudges."""
    if text:
        return time_text(state, text, facts)
    row = tuple(
        Button(facts.words.clock(minute), f"student:time:{minute}") for minute in offered_minutes(facts)
    )
    now = facts.words.clock(facts.students[0].nudge_minute)
    asked = menu_of(facts, "time", "student.time", (row,) if row else (), now=now)
    return stay(_asking(state, TIME), asked)


def offered_minutes(facts: Facts) -> tuple[int, ...]:
    """Return times of day to choose from: those outside the class's quiet hours."""
    rules = (facts.invited or facts.students[0].school_class).rules
    minutes = dict.fromkeys((*OFFERED_MINUTES, rules.nudge_minute))
    return tuple(sorted(minute for minute in minutes if not in_quiet_hours(minute, rules.quiet)))


def time_button(state: State, parts: list[str], facts: Facts) -> Step:
    """Take an offered time: ``student:time:MINUTE``."""
    minute = number(parts[0]) if parts else None
    if minute is None or minute >= DAY_MIN:
        return step(state, facts, say(facts, "not_yours"))
    return step(state, facts, effects=[SetTimes({"nudge_minute": minute})])


def time_text(state: State, text: str, facts: Facts) -> Step:
    """Take a typed time."""
    minute = minute_of_day(text)
    if minute is None:
        return stay(_asking(state, TIME), say(facts, "student.time.unreadable"))
    return step(state, facts, effects=[SetTimes({"nudge_minute": minute})])


def on_quiet(state: State, text: str, facts: Facts) -> Step:
    """Choose own quiet hours, beside those of the class."""
    if text:
        return quiet_text(state, text, facts)
    rules = facts.students[0].school_class.rules
    start, end = facts.words.clock(rules.quiet_from), facts.words.clock(rules.quiet_until)
    return stay(_asking(state, QUIET), say(facts, "student.quiet", start=start, end=end))


def quiet_text(state: State, text: str, facts: Facts) -> Step:
    """Take typed hours, or "off" for those of the class alone."""
    if _is_off(text):
        return step(state, facts, effects=[SetTimes({"quiet_from": None, "quiet_until": None})])
    found = minutes_between(text)
    if found is None:
        return stay(_asking(state, QUIET), say(facts, "student.quiet.unreadable"))
    return step(state, facts, effects=[SetTimes({"quiet_from": found[0], "quiet_until": found[1]})])


def _is_off(text: str) -> bool:
    return text.strip().casefold() in (*typed("off"), *typed("none"))


def on_zone(state: State, text: str, facts: Facts) -> Step:
    """Choose the time zone."""
    if text:
        return zone_text(state, text, facts)
    return stay(_asking(state, ZONE), say(facts, "student.zone", zone=_place(home_zone(facts))))


def zone_text(state: State, text: str, facts: Facts) -> Step:
    """Take a typed city or IANA name; ask back where there are several."""
    found = zones_named(text)
    if not found:
        return stay(_asking(state, ZONE), say(facts, "student.zone.unknown", text=text[:40]))
    if len(found) > 1:
        row = tuple(Button(name, f"student:zone:{name}") for name in found)
        return stay(_asking(state, ZONE), menu_of(facts, "zone", "student.zone.which", (row,)))
    return step(state, facts, effects=[SetTimes({"zone": found[0]})])


def zone_button(state: State, parts: list[str], facts: Facts) -> Step:
    """Take an offered zone: ``student:zone:NAME``."""
    found = zones_named(parts[0]) if parts else ()
    if len(found) != 1:
        return step(state, facts, say(facts, "not_yours"))
    return step(state, facts, effects=[SetTimes({"zone": found[0]})])


def _place(zone: str) -> str:
    return zone.rsplit("/", 1)[-1].replace("_", " ")


def has_value(word: str, text: str, facts: Facts) -> bool:
    """Whether the word of a setting is followed by a value of it: ``time 19:30``, not "time flies"."""
    match word:
        case "time":
            return minute_of_day(text) is not None
        case "quiet":
            return _is_off(text) or minutes_between(text) is not None
        case "pause":
            today = local_day(facts.now, home_zone(facts))
            return bool(_ends(text, today)) or _after_span(text, today) is not None
        case "zone":
            return bool(zones_named(text))
        case _:
            return False


# ---------------------------------------------------------------- what came of it

ASKED_BY = {
    "paused": ("pause", ""),
    "paused_until": ("pause", "day"),
    "time": ("time", "minute"),
    "zone": ("zone", "zone"),
    "resumed": ("silence", ""),
    "not_paused": ("silence", ""),
}
"""Which menu asks for what was changed, and the value that was chosen."""


def on_done(state: State, event: Changed, facts: Facts) -> Step:
    """Say what was changed; what had asked for it shows it too."""
    shown = _shown(event.values, facts)
    done = step(state, facts, Message(facts.words.say(f"student.done.{event.what}", **shown)))
    if event.what not in ASKED_BY:
        return done
    asked, value = ASKED_BY[event.what]
    return answered(done, asked, str(shown.get(value, "")))


def _shown(values: Mapping[str, object], facts: Facts) -> dict[str, object]:
    """Write minutes and days as people read them; a zone as its place."""
    found: dict[str, object] = {}
    for name, value in values.items():
        if name in ("minute", "start", "end") and isinstance(value, int):
            found[name] = facts.words.clock(value)
        elif name == "zone" and isinstance(value, str):
            found[name] = _place(value)
        elif name == "day" and isinstance(value, date):
            found[name] = facts.words.day(value)
        else:
            found[name] = value
    return found


def on_refused(state: State, event: NotChanged, facts: Facts) -> Step:
    """Say why something was not changed."""
    return step(state, facts, say(facts, "student.refused", why=event.why))
