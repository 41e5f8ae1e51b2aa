"""German: the two columns of bounds that follow every figure with an interval."""

from __future__ import annotations

LOW = "Untere Grenze: In vier von fünf Fällen liegt der wahre Wert zwischen den beiden Grenzen."
HIGH = "Obere Grenze: In vier von fünf Fällen liegt der wahre Wert zwischen den beiden Grenzen."


def bounded(*keys: str) -> dict[str, str]:
    """Return headings and notes of the columns ``KEY_low`` and ``KEY_high``."""
    texts: dict[str, str] = {}
    for key in keys:
        texts |= {
            f"column.{key}_low": "von",
            f"column.{key}_low.note": LOW,
            f"column.{key}_high": "bis",
            f"column.{key}_high.note": HIGH,
        }
    return texts
