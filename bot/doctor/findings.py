"""What ``holdfast doctor`` finds."""

from __future__ import annotations

from dataclasses import dataclass

SYNAPSE_LIMITS = (
    "Synapse: override_ratelimit of the admin API, or rc_message, rc_joins and rc_invites in homeserver.yaml; see "
    "“Matrix” in deploy/OPERATORS.md."
)
"""Where the limits stand. No request of the client-server API tells them to an ordinary account."""


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
