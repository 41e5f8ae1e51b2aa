"""A class name stands for one thing in the whole product."""

import ast
from collections import defaultdict
from collections.abc import Iterator
from pathlib import Path

TOP = Path(__file__).parents[2]
PRODUCT = ("bot", "scheduler", "storage")


def _classes(path: Path) -> Iterator[str]:
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.ClassDef):
            yield node.name


def test_no_class_name_stands_in_two_modules():
    places = defaultdict(set)
    for package in PRODUCT:
        for path in (TOP / package).rglob("*.py"):
            for name in _classes(path):
                places[name].add(path.relative_to(TOP).as_posix())
    assert len(places) > 500, "the product has more classes than were found"
    assert {name: sorted(found) for name, found in places.items() if len(found) > 1} == {}
