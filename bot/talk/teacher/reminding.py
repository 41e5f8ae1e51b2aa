"""What a teacher is reminded of."""

from __future__ import annotations

from collections.abc import Sequence

from bot.chat.port import Message
from bot.talk.teacher.common import labelled, rows_of
from bot.words import Words


def reminder(words: Words, class_id: int, class_name: str, topics: Sequence[tuple[int, str]]) -> Message:
    """Return the reminder of topics without questions, each with a button to add some."""
    said = words.say(
        "teacher.remind_questions",
        n=len(topics),
        names=words.listed([name for _, name in topics]),
        class_name=class_name,
    )
    buttons = [labelled(name, "add_to", class_id, topic) for topic, name in topics[:6]]
    return Message(said, tuple(rows_of(buttons)), urgent=False, language=words.language)
