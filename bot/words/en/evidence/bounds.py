"""English: the two columns of bounds that follow every figure with an interval."""

from __future__ import annotations

LOW = "Lower bound: in four cases out of five the true value lies between the two bounds."
HIGH = "Upper bound: in four cases out of five the true value lies between the two bounds."


def bounded(*keys: str) -> dict[str, str]:
    """Return headings and notes of the columns ``KEY_low`` and ``KEY_high``."""
    texts: dict[str, str] = {}
    for key in keys:
        texts |= {
            f"column.{key}_low": "from",
            f"column.{key}_low.note": LOW,
            f"column.{key}_high": "to",
            f"column.{key}_high.note": HIGH,
        }
    return texts
