"""Labels of the buttons that change a class's dose: the same in the chat, in a report and in a forecast."""

from __future__ import annotations

from typing import Protocol

from bot.words import Words


class Offer(Protocol):
    """Questions at a time, and where they change with it, weekdays and target [%]."""

    @property
    def questions(self) -> int: ...  # noqa: D102 - described above

    @property
    def days(self) -> tuple[int, ...] | None: ...  # noqa: D102

    @property
    def target(self) -> int | None: ...  # noqa: D102


def dose_label(offer: Offer, words: Words) -> str:
    """Write the button that takes an offer: ``Ask 3 on 5 days``."""
    if offer.target is not None:
        return words.text("target.take", target=offer.target, n=offer.questions)
    if offer.days is not None:
        return words.text("dose.ask_days", questions=offer.questions, n=len(offer.days))
    return words.text("dose.ask", n=offer.questions)
