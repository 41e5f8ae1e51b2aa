"""Questions with drawn values, and the bank of questions."""

from __future__ import annotations

from collections.abc import Mapping

TEXTS: Mapping[str, str | Mapping[str, str]] = {
    "drawn.steps": "Step by step:",
}
