"""The public face: what the pages promise is there, and says what it does."""

import inspect
import re
import subprocess
import sys
from pathlib import Path

import pytest

import gradekit as gk

README = Path(__file__).resolve().parent.parent / "README.md"


def test_every_call_of_the_readme_exists():
    rows = [x for x in README.read_text("utf-8").splitlines() if x.startswith("| `")]
    calls = {c for row in rows for c in re.findall(r"`(\w+)\(", row.split("|")[1])}
    assert len(calls) > 10
    assert not {c for c in calls if not hasattr(gk, c)}


@pytest.mark.parametrize("name", gk.__all__)
def test_every_public_name_is_documented(name):
    found = getattr(gk, name)
    assert not inspect.ismodule(found)
    assert inspect.getdoc(found), name


def test_public_functions_have_type_hints():
    for name in gk.__all__:
        found = inspect.unwrap(getattr(gk, name))
        if inspect.isfunction(found):
            signature = inspect.signature(found)
            assert signature.return_annotation is not inspect.Signature.empty, name
            for parameter in signature.parameters.values():
                assert parameter.annotation is not inspect.Parameter.empty, (name, parameter)


def test_a_function_wins_over_the_module_of_its_name():
    code = (
        "import gradekit.draw, gradekit.diagram, gradekit.grades, gradekit.estimate\n"
        "import gradekit as gk\n"
        "assert all(callable(f) for f in (gk.draw, gk.diagram, gk.grades, gk.estimate))"
    )
    subprocess.run([sys.executable, "-c", code], check=True)


def test_unknown_public_name_says_what_there_is():
    with pytest.raises(AttributeError, match="evaluate"):
        gk.evalute  # noqa: B018
