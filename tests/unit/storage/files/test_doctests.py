"""The examples in the docstrings of the file readers are run."""

from __future__ import annotations

import doctest
import importlib
import pkgutil

import pytest

import storage.files

MODULES = [info.name for info in pkgutil.iter_modules(storage.files.__path__)]


@pytest.mark.parametrize("name", MODULES)
def test_examples_in_docstrings_hold(name: str) -> None:
    module = importlib.import_module(f"storage.files.{name}")
    assert doctest.testmod(module).failed == 0
