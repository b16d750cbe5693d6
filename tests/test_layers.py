"""The architecture as a test: who may import whom, what loads when, what lies where."""

from __future__ import annotations

import ast
import graphlib
import re
import subprocess
import sys
from collections import defaultdict
from functools import cache
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
PACKAGE = ROOT / "gradekit"
PAGE = ROOT / "DEVELOPERS.md"

TOP_LEVEL = {
    "README.md",
    "DEVELOPERS.md",
    "pyproject.toml",
    "gradekit",
    "notebooks",
    "data",
    "tests",
}
# What is slow to load is loaded when first used; only drawing and the panels may do it earlier.
HEAVY = {"ipywidgets", "matplotlib", "openpyxl", "periodictable", "scipy", "sklearn"}
MAY_LOAD_HEAVY = (6, 7)
MODULES = sorted(PACKAGE.rglob("*.py"))


@cache
def layers() -> dict[str, int]:
    """Read the layer of each module from the table in DEVELOPERS.md: the page is the rule."""
    found = {}
    for number, cell in re.findall(r"^\| (\d) \| (.+?) \|", PAGE.read_text("utf-8"), re.MULTILINE):
        for name in re.findall(r"`([\w./]+)`", cell):
            assert name not in found, f"{name} stands twice in the table of {PAGE.name}"
            found[name.removesuffix(".py").rstrip("/")] = int(number)
    return found


def room(module: str) -> str:
    """Return the entry of the table that a dotted module name belongs to."""
    return module.split(".")[1] if "." in module else "__init__"


def dotted(path: Path) -> str:
    parts = path.relative_to(ROOT).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


@cache
def tree(path: Path) -> ast.Module:
    return ast.parse(path.read_text("utf-8"))


def imports(path: Path, nodes) -> set[str]:
    """Return the dotted names that these nodes import; a name in a package may be a module."""
    known = {dotted(p) for p in MODULES}
    package = dotted(path) if path.stem == "__init__" else dotted(path).rpartition(".")[0]
    found = set()
    for node in nodes:
        if isinstance(node, ast.Import):
            found.update(alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            base = node.module or ""
            if node.level:
                up = package.split(".")[: len(package.split(".")) - node.level + 1]
                base = ".".join([*up, *filter(None, [node.module])])
            inside = [f"{base}.{alias.name}" for alias in node.names]
            found.update(name if name in known else base for name in inside)
    return found


def ours(path: Path) -> set[str]:
    names = imports(path, ast.walk(tree(path)))
    return {n for n in names if n.split(".")[0] == "gradekit"} - {dotted(path)}


def at_load(node: ast.AST):
    """Walk what runs when a module is loaded: no function bodies, no imports for types only."""
    for child in ast.iter_child_nodes(node):
        if isinstance(child, ast.FunctionDef | ast.AsyncFunctionDef | ast.Lambda):
            continue
        if isinstance(child, ast.If) and "TYPE_CHECKING" in ast.unparse(child.test):
            continue
        yield child
        yield from at_load(child)


@pytest.mark.parametrize("path", MODULES, ids=dotted)
def test_a_module_imports_only_from_its_own_layer_and_below(path):
    where = layers()
    own = room(dotted(path))
    assert own in where, (
        f"{dotted(path)} is in no layer: put it into the table of {PAGE.name}, in the lowest row "
        "whose description fits, and see that it imports nothing from a row further down the page"
    )
    above = {
        name: where[room(name)]
        for name in ours(path)
        if room(name) in where and where[room(name)] > where[own]
    }
    assert not above, f"{dotted(path)} (layer {where[own]}) imports from above: {above}"


def test_the_table_names_no_module_that_is_gone():
    present = {room(dotted(path)) for path in MODULES} | {
        folder.name for folder in PACKAGE.iterdir() if folder.is_dir()
    }
    assert set(layers()) <= present, f"gone: {sorted(set(layers()) - present)}"


def test_no_two_rooms_import_each_other():
    graph: dict[str, set[str]] = {}
    for path in MODULES:
        others = {room(name) for name in ours(path)}
        graph.setdefault(room(dotted(path)), set()).update(others - {room(dotted(path))})
    graphlib.TopologicalSorter(graph).prepare()  # raises CycleError and names the circle


def test_no_two_modules_import_each_other_not_even_for_their_types():
    graphlib.TopologicalSorter({dotted(path): ours(path) for path in MODULES}).prepare()


def test_the_rooms_are_few_and_the_root_is_nearly_empty():
    assert len({path.relative_to(PACKAGE).parts[0] for path in MODULES if path.parent != PACKAGE}
               ) <= 16  # fmt: skip
    assert sum(path.parent == PACKAGE for path in MODULES) <= 4


ENDINGS = re.compile(r"(?<=\w{3})(?:ings?|ions?|ers?|ors?|ed|es|s|e)$")


def test_no_two_names_of_a_folder_differ_only_by_an_ending():
    alike: dict[tuple[Path, str], set[str]] = {}
    for path in MODULES:
        for place in (path, path.parent):
            name = place.stem
            # a folder is a neighbour of its own modules too
            for folder in {place.parent, place} if place.is_dir() else {place.parent}:
                alike.setdefault((folder, ENDINGS.sub("", name)), set()).add(name)
    assert not {names for names in map(frozenset, alike.values()) if len(names) > 1}


def test_heavy_libraries_are_imported_inside_functions_only():
    early = {
        dotted(path): loaded
        for path in MODULES
        if layers().get(room(dotted(path))) not in MAY_LOAD_HEAVY
        if (loaded := {n.split(".")[0] for n in imports(path, at_load(tree(path)))} & HEAVY)
    }
    assert not early


def test_importing_the_package_loads_none_of_them():
    code = "import sys, gradekit; print(*sorted({m.split('.')[0] for m in sys.modules}))"
    run = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, cwd=ROOT, check=True
    )
    assert not HEAVY & set(run.stdout.split())
    assert {"gradekit", "numpy", "pandas"} <= set(run.stdout.split())


# --- the folder -----------------------------------------------------------------------------


@cache
def tracked() -> list[str]:
    if not (ROOT / ".git").exists():
        pytest.skip("not a clone: no list of files to look at")
    run = subprocess.run(["git", "ls-files", "-z"], capture_output=True, cwd=ROOT, check=True)
    return [name.decode() for name in run.stdout.split(b"\0") if name]


def test_nothing_else_lies_at_the_top():
    top = {name.split("/")[0] for name in tracked()}
    assert {name for name in top if not name.startswith(".")} <= TOP_LEVEL


def test_no_file_names_a_place_on_somebodys_machine():
    place = re.compile(rb"(?<![\w.~:/])/(?:work|tmp|root|home|Users|opt)/\w")
    found = [
        f"{name}: {match.group().decode()}"
        for name in tracked()
        if (ROOT / name).is_file()
        for match in place.finditer((ROOT / name).read_bytes())
    ]
    assert not found, found


@pytest.mark.parametrize("path", MODULES, ids=lambda p: str(p.relative_to(PACKAGE)))
def test_a_private_name_stays_in_its_module(path):
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("gradekit"):
            taken = [a.name for a in node.names if re.match(r"_[^_]", a.name)]
            assert not taken, f"from {node.module}: {taken}"


# What each works step, each scene of the course and each door defines, as the guide says.
INTERFACES = {"STEP", "CONDITIONS", "CAUTIONS", "checks", "PLAY", "look", "main"}


def _defined(path) -> set[str]:
    """Return the public names that a module defines; none of a module that is private itself."""
    if re.match(r"_[^_]", path.name):
        return set()
    names = set()
    for node in tree(path).body:
        if isinstance(node, ast.FunctionDef | ast.ClassDef):
            names.add(node.name)
        elif isinstance(node, ast.Assign | ast.AnnAssign):
            targets = node.targets if isinstance(node, ast.Assign) else [node.target]
            names |= {n.id for t in targets for n in ast.walk(t) if isinstance(n, ast.Name)}
    return {name for name in names if not name.startswith("_")}


def test_a_public_name_means_one_thing():
    places = defaultdict(list)
    for path in MODULES:
        for name in _defined(path) - INTERFACES:
            places[name].append(str(path.relative_to(PACKAGE)))
    more = {name: where for name, where in places.items() if len(where) > 1}
    assert len(INTERFACES) + len(more) <= 9, more


def test_no_test_reads_a_private_name_of_the_library():
    shown = re.compile(r"_repr_\w+_|_ipython_display_|_fields|_asdict|_replace|__\w+__")
    read = []
    for path in sorted((ROOT / "tests").rglob("*.py")):
        for node in ast.walk(tree(path)):
            if isinstance(node, ast.Attribute) and node.attr.startswith("_"):
                own = isinstance(node.value, ast.Name) and node.value.id in ("self", "cls")
                if not own and not shown.fullmatch(node.attr):
                    read.append(f"{path.relative_to(ROOT)}:{node.lineno} {node.attr}")
            elif isinstance(node, ast.ImportFrom) and (node.module or "").startswith("gradekit"):
                read += [f"{path}: {a.name}" for a in node.names if re.match("_[^_]", a.name)]
    assert read == []
