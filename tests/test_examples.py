"""Every example of every docstring runs and gives what it shows."""

import doctest
import importlib
import pkgutil
from pathlib import Path

import pytest

import gradekit

ROOT = Path(__file__).resolve().parent.parent
MODULES = sorted(
    found.name
    for found in pkgutil.walk_packages(gradekit.__path__, "gradekit.")
    if found.name != "gradekit.__main__"
)


@pytest.mark.parametrize("name", MODULES)
def test_the_examples_of_a_module_hold(name, monkeypatch):
    monkeypatch.chdir(ROOT)  # examples read the demo data as the README does
    tried = doctest.testmod(importlib.import_module(name), optionflags=doctest.ELLIPSIS)
    assert not tried.failed


def test_there_are_examples_to_try():
    finder = doctest.DocTestFinder(exclude_empty=True)
    tests = [t for m in MODULES for t in finder.find(importlib.import_module(m)) if t.examples]
    assert len(tests) > 150
