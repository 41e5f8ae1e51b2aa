"""What ``holdfast doctor`` finds."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class CheckResult:
    """One thing that was looked at. `level` is ``good``, ``note`` or ``wrong``."""

    level: str
    sentence: str

    @property
    def sign(self) -> str:
        """A word, so that nothing depends on colour or on a sign that a font may lack."""
        return {"good": "ok   ", "note": "note ", "wrong": "WRONG"}[self.level]

    @property
    def wrong(self) -> bool:
        """Whether the program is not ready like this."""
        return self.level == "wrong"
