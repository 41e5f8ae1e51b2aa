"""Every public function of the scheduler says what its parameters are: shapes and units cannot be seen in a type."""

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

import scheduler

FOLDER = Path(scheduler.__file__).parent
SECTION = re.compile(r"^Parameters\n-{10}\n(.*?)(?=^[A-Z][A-Za-z ]+\n-{3,}\n|\Z)", re.MULTILINE | re.DOTALL)


def _documented(docstring: str) -> set[str]:
    """Return the names in the section "Parameters" (numpydoc's form: ``name, name : type``)."""
    section = SECTION.search(f"{docstring}\n")
    lines = [] if section is None else [line for line in section[1].splitlines() if line[:1].strip()]
    return {name.strip().lstrip("*") for line in lines for name in line.partition(" : ")[0].split(",")}


def _parameters(function: ast.FunctionDef | ast.AsyncFunctionDef) -> list[str]:
    arguments = function.args
    found = [one.arg for one in (*arguments.posonlyargs, *arguments.args, *arguments.kwonlyargs)]
    return [name for name in found if name not in ("self", "cls")]


def _public(path: Path) -> Iterator[tuple[str, ast.FunctionDef | ast.AsyncFunctionDef, frozenset[str]]]:
    """Yield the public functions and methods of a module, with the methods that a base in the module documents."""
    tree = ast.parse(path.read_text("utf-8"))
    classes = {one.name: one for one in tree.body if isinstance(one, ast.ClassDef)}
    for one in tree.body:
        if isinstance(one, ast.FunctionDef | ast.AsyncFunctionDef) and not one.name.startswith("_"):
            yield one.name, one, frozenset()
    for name, one in classes.items():
        bases = [base.id for base in one.bases if isinstance(base, ast.Name) and base.id in classes]
        inherited = frozenset(
            part.name for base in bases for part in classes[base].body if isinstance(part, ast.FunctionDef)
        )
        for part in one.body:
            if isinstance(part, ast.FunctionDef) and not part.name.startswith("_") and name[0] != "_":
                yield f"{name}.{part.name}", part, inherited


MODULES = sorted(FOLDER.rglob("*.py"))


@pytest.mark.parametrize("path", MODULES, ids=[str(one.relative_to(FOLDER)) for one in MODULES])
def test_every_parameter_of_a_public_function_is_documented(path):
    lacking = []
    for name, function, inherited in _public(path):
        docstring = ast.get_docstring(function)
        assert docstring, f"{name} has no docstring"
        wanted = _parameters(function)
        if len(wanted) >= 2 and function.name not in inherited:
            missing = [one for one in wanted if one not in _documented(docstring)]
            lacking += [f"{name}: {', '.join(missing)}"] if missing else []
    assert lacking == []


def test_the_test_sees_what_is_missing():
    source = (
        'def f(a, b):\n    """Do.\n\n    Parameters\n    ----------\n    a : int\n        One.\n    """\n'
    )
    (function,) = ast.parse(source).body
    assert isinstance(function, ast.FunctionDef)
    assert _documented(ast.get_docstring(function) or "") == {"a"}
    assert sum(len(list(_public(path))) for path in MODULES) > 100
