"""Text with emphasis: what all wording becomes, whichever chat shows it."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Span:
    """A run of literal text, `strong` where it should stand out. Never contains markup.

    What is `aside` may be folded away where a platform can.
    """

    text: str
    strong: bool = False
    aside: bool = False


@dataclass(frozen=True, slots=True)
class Rich:
    """Text as spans, so that no word of a person can ever be read as markup."""

    spans: tuple[Span, ...] = ()

    @property
    def plain(self) -> str:
        """The same text without emphasis."""
        return "".join(span.text for span in self.spans)

    def __add__(self, other: Rich) -> Rich:
        return Rich(self.spans + other.spans)

    @classmethod
    def of(cls, text: str, *, strong: bool = False, aside: bool = False) -> Rich:
        """Literal text as one span."""
        return cls((Span(text, strong, aside),)) if text else cls()
