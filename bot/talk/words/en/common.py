"""English: what everybody may hear."""

from __future__ import annotations

from collections.abc import Mapping

TEXTS: Mapping[str, str | Mapping[str, str]] = {
    "fault": "That did not work. Nothing is lost; please try again in a minute. (ref {ref})",
    "not_yours": "This button belongs to somebody else, so nothing happened.",
    "stale": "This question was already answered.",
}
