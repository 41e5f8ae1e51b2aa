"""Fragen mit gezogenen Werten, und der Vorrat an Fragen."""

from __future__ import annotations

from collections.abc import Mapping

TEXTS: Mapping[str, str | Mapping[str, str]] = {
    "drawn.steps": "Schritt für Schritt:",
}
