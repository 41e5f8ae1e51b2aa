"""Every text that the evidence may need is there, in every language."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest

import bot.evidence
from bot.evidence.records.xapi import COLUMNS
from bot.words import LANGUAGES, words

HERE = Path(bot.evidence.__file__).parent
CALLS = {"text", "say", "_heading", "NothingThere", "BadCounts"}


def _literal_keys() -> set[str]:
    """Return the keys that the modules name in full."""
    found: set[str] = set()
    for path in HERE.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text())):
            if isinstance(node, ast.Call) and node.args:
                name = getattr(node.func, "attr", getattr(node.func, "id", ""))
                first = node.args[0]
                if name in CALLS and isinstance(first, ast.Constant) and isinstance(first.value, str):
                    found.add(first.value)
    return {key for key in found if re.fullmatch(r"[a-z_]+(\.[a-z_0-9]+)+", key)}


def _column_keys() -> set[str]:
    found: set[str] = set()
    for path in HERE.rglob("*tables.py"):
        source = path.read_text()
        found |= set(re.findall(r'Column\(\s*"(\w+)"(?![^)\n]*bound=)', source))
        for several in re.findall(r'(?:estimate|share)_columns\("(\w+)"\)', source):
            found.add(several)
    return found | {"low", "high"}


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_text_that_is_named_exists(language: str) -> None:
    keys = _literal_keys()
    assert len(keys) > 100
    catalogue = words(language)
    missing = []
    for key in sorted(keys):
        try:
            catalogue._template(key, {"n": 1})
        except KeyError:
            missing.append(key)
    assert missing == []


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_column_has_a_heading_and_a_note(language: str) -> None:
    keys = _column_keys()
    assert len(keys) > 40
    catalogue = words(language)
    for key in sorted(keys):
        assert catalogue.text(f"column.{key}")
        assert len(catalogue.text(f"column.{key}.note")) > 5
    for name, _ in COLUMNS:
        assert catalogue.text(f"records.{name}")


def test_no_text_praises_shouts_or_borrows() -> None:
    texts = " ".join(path.read_text() for path in (HERE.parent / "words/en/evidence").glob("*.pot"))
    assert "!" not in texts
    for word in ("str" + "eak", "de" + "ck", "ba" + "dge", "mast" + "ery", "well done", "great job", "rank "):
        assert word not in texts.casefold()
