"""The doors: from a clone with nothing but Python, and from an installed wheel."""

from __future__ import annotations

import ast
import os
import runpy
import subprocess
import sys
import tomllib
import zipfile
from itertools import chain
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

from gradekit import __main__ as door
from gradekit import launch

SCRIPT = Path(launch.__file__)


def run(*command, **options) -> subprocess.CompletedProcess:
    return subprocess.run(command, capture_output=True, text=True, timeout=120, **options)


# --- the launcher needs nothing -------------------------------------------------------------


def test_it_imports_the_standard_library_only():
    for node in ast.walk(ast.parse(SCRIPT.read_text("utf-8"))):
        if isinstance(node, ast.Import):
            assert {alias.name.split(".")[0] for alias in node.names} <= sys.stdlib_module_names
        if isinstance(node, ast.ImportFrom):
            assert not node.level and node.module.split(".")[0] in sys.stdlib_module_names


def test_an_old_python_is_told_so_in_words(monkeypatch):
    ast.parse(SCRIPT.read_text("utf-8"), feature_version=(3, 6))  # or it would not get that far
    monkeypatch.setattr(sys, "version_info", (3, 9, 2, "final", 0))
    with pytest.raises(SystemExit, match=r"needs Python 3\.11 or newer; this is Python 3\.9"):
        runpy.run_path(str(SCRIPT))


def test_modules_of_the_package_do_not_hide_those_of_the_standard_library(tmp_path):
    (tmp_path / "argparse.py").write_text("raise SystemExit('the wrong one')")
    script = tmp_path / "launch.py"
    script.write_text(SCRIPT.read_text("utf-8"))
    (tmp_path.parent / "pyproject.toml").touch()
    answer = run(sys.executable, script, "--help")
    assert answer.returncode == 0 and "open JupyterLab" in answer.stdout


def test_an_installed_copy_points_to_the_other_door(tmp_path):
    folder = tmp_path / "site" / "gradekit"
    folder.mkdir(parents=True)
    (folder / "launch.py").write_text(SCRIPT.read_text("utf-8"))
    answer = run(sys.executable, folder / "launch.py")
    assert answer.returncode == 1 and "python -m gradekit" in answer.stderr


# --- making an environment with what there is -----------------------------------------------


@pytest.fixture
def poor_python(tmp_path, monkeypatch):
    """Make the launcher believe that it runs in a Python which refuses some of its own modules."""

    def refuse(*arguments: str) -> None:
        script = tmp_path / "python3"
        tests = "\n".join(
            f'case "$*" in *"{a}"*) echo "no such thing: {a}" >&2; exit 1;; esac' for a in arguments
        )
        script.write_text(f'#!/bin/sh\n{tests}\nexec "{sys.executable}" "$@"\n')
        script.chmod(0o755)
        monkeypatch.setattr(sys, "executable", str(script))
        monkeypatch.setenv("PATH", str(tmp_path))

    if os.name != "posix":
        pytest.skip("the stand-in is a shell script")
    return refuse


@pytest.fixture
def wheel(tmp_path) -> Path:
    """A package of one line, so that something can be installed without any network."""
    path = tmp_path / "tiny_steel-1.0-py3-none-any.whl"
    about = "tiny_steel-1.0.dist-info"
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("tiny_steel.py", "NAME = 'tiny'\n")
        archive.writestr(
            f"{about}/METADATA", "Metadata-Version: 2.1\nName: tiny-steel\nVersion: 1.0\n"
        )
        archive.writestr(
            f"{about}/WHEEL", "Wheel-Version: 1.0\nRoot-Is-Purelib: true\nTag: py3-none-any\n"
        )
        archive.writestr(f"{about}/RECORD", "")
    return path


def test_without_ensurepip_the_pip_of_the_system_fills_the_environment(
    tmp_path, poor_python, wheel
):
    poor_python("venv --clear /", "venv --clear " + str(tmp_path))  # only --without-pip is left
    folder = tmp_path / "env"
    launch.make_environment(folder)
    python = launch.python_of(folder)
    assert run(python, "-m", "pip", "--version").returncode, "the environment should have no pip"
    launch.install(python, ["--no-index", str(wheel)], folder / "install.log")
    assert run(python, "-c", "import tiny_steel; print(tiny_steel.NAME)").stdout == "tiny\n"


def test_without_any_pip_it_says_what_to_install(tmp_path, poor_python, wheel):
    poor_python("venv --clear " + str(tmp_path), "-m pip")
    folder = tmp_path / "env"
    launch.make_environment(folder)
    with pytest.raises(SystemExit, match="sudo apt install python3-venv"):
        launch.install(launch.python_of(folder), [str(wheel)], folder / "install.log")


def test_without_any_way_to_an_environment_it_says_what_to_install(tmp_path, poor_python):
    poor_python("-m venv", "-m virtualenv", "-m pip")
    with pytest.raises(SystemExit, match="sudo apt install python3-venv"):
        launch.make_environment(tmp_path / "env")


def test_a_failed_installation_shows_why_and_where_to_read_on(tmp_path):
    log = tmp_path / "install.log"
    with pytest.raises(SystemExit) as stop:
        launch.install(sys.executable, ["--no-index", "no-such-steel-package"], log)
    assert "no-such-steel-package" in str(stop.value) and "Is the network up" in str(stop.value)
    assert "no-such-steel-package" in log.read_text()


# --- an environment that is in order is left alone --------------------------------------------


@pytest.fixture
def project(tmp_path, monkeypatch):
    """A clone with an environment of its own; what would be installed is noted instead."""
    (tmp_path / "pyproject.toml").write_text("[project]\nname = 'one'\n")
    installed = []
    monkeypatch.setattr(launch, "ROOT", tmp_path)
    monkeypatch.setattr(launch, "install", lambda python, what, log: installed.append(what[-1]))
    run(sys.executable, "-m", "venv", "--without-pip", tmp_path / ".venv")

    def start(*extras: str) -> list[str]:
        installed.clear()
        launch.environment(*extras, folder=tmp_path / ".venv")
        return list(installed)

    start.root = tmp_path
    return start


def test_the_second_start_installs_nothing(project):
    assert project() == [str(project.root)]
    assert project() == []


def test_what_was_asked_for_once_stays(project):
    assert project("test", "app") == [f"{project.root}[app,test]"]
    assert project("app") == project() == []
    (project.root / "pyproject.toml").write_text("[project]\nname = 'two'\n")
    assert project() == [f"{project.root}[app,test]"]


def test_a_changed_project_is_noticed(project):
    project()
    (project.root / "pyproject.toml").write_text("[project]\nname = 'two'\n")
    assert project() and not project()


def test_the_tested_versions_are_installed_and_a_renewal_is_noticed(project, monkeypatch, tmp_path):
    asked = []
    monkeypatch.setattr(launch, "install", lambda python, what, log: asked.append(what))
    project()
    assert asked[0][:2] == ["--constraint", str(launch.TESTED)]
    monkeypatch.setattr(launch, "TESTED", tmp_path / "renewed.txt")
    launch.TESTED.write_text("numpy==99\n")
    project()
    assert asked[1][:2] == ["--constraint", str(launch.TESTED)]
    project()
    assert len(asked) == 2


def test_every_package_that_is_asked_for_has_a_tested_version_for_every_python():
    about = tomllib.loads((launch.ROOT / "pyproject.toml").read_text("utf-8"))["project"]
    asked = [*about["dependencies"], *chain(*about["optional-dependencies"].values())]
    lines = [Requirement(line) for line in launch.TESTED.read_text("utf-8").splitlines()]
    for version in ("3.11.9", "3.12.4", "3.13.0", "3.14.0"):
        here = {"python_full_version": version, "python_version": version.rpartition(".")[0]}
        tested = {
            canonicalize_name(line.name): next(iter(line.specifier)).version
            for line in lines
            if line.marker is None or line.marker.evaluate(here)
        }
        for one in map(Requirement, asked):
            assert one.specifier.contains(tested[canonicalize_name(one.name)]), (version, one)


def test_an_interrupted_installation_is_taken_up_again(project, monkeypatch):
    def fail(*_):
        raise KeyboardInterrupt

    with monkeypatch.context() as now, pytest.raises(KeyboardInterrupt):
        now.setattr(launch, "install", fail)
        project()
    assert project() and not project()


def test_an_environment_that_does_not_start_is_made_anew(project):
    project("test")
    python = Path(launch.python_of(project.root / ".venv"))
    python.unlink()
    python.write_text("broken")
    assert project() == [str(project.root)]
    assert run(python, "-c", "").returncode == 0


# --- what is started ----------------------------------------------------------------------------


def test_servers_listen_to_this_machine_and_keep_their_token(tmp_path):
    for command in (launch.lab_command("python3", tmp_path), launch.app_command("py", tmp_path)):
        assert any(word.endswith(".ip=127.0.0.1") for word in command)
        assert not any("token=" in word or "password" in word for word in command)
    assert "--token" in launch.app_command("python3", tmp_path)  # it would go without


@pytest.mark.parametrize(
    ("words", "page"),
    [([], launch.APP_PAGE), (["heats"], "08-your-works.ipynb"), (["--all"], "")],
)
def test_the_app_opens_the_page_that_is_named(words, page, monkeypatch):
    commands = []
    monkeypatch.setattr(launch, "environment", lambda *extras: sys.executable)
    monkeypatch.setattr(launch, "start", lambda command: commands.append(command) or 0)
    assert launch.main(["app", *words, "--no-browser"]) == 0
    opened = [word.partition("=")[2] for word in commands[0] if word.startswith("--first=")]
    assert opened == ([page] if page else [])
    if page:
        assert (launch.ROOT / "notebooks" / page).is_file()


@pytest.mark.parametrize("words, page", [([], launch.APP_PAGE), (["heats"], "08-your-works.ipynb")])
def test_the_installed_app_opens_it_too(words, page, monkeypatch, tmp_path):
    commands = []
    monkeypatch.setattr(door.launch, "start", lambda command: commands.append(command) or 0)
    assert door.main(["app", *words, str(tmp_path), "--no-browser"]) == 0
    assert f"--first={page}" in commands[0] and str(tmp_path / "notebooks") in commands[0]


def test_a_page_is_one_of_the_app():
    with pytest.raises(SystemExit):
        launch.main(["lab", "heats"])
    with pytest.raises(SystemExit):
        launch.main(["app", "steel"])


def test_the_codes_of_all_test_runs_count(tmp_path):
    python = tmp_path / "python"
    python.write_text(
        f'#!/bin/sh\necho "$*" >> {tmp_path}/said\n'
        'case "$*" in *notebooks|*browser) exit 0;; *loadfile) exit 1;; *none) exit 5;; esac\n'
    )
    python.chmod(0o755)
    assert launch.run_tests(str(python), []) == 1
    runs = (tmp_path / "said").read_text().splitlines()
    asked = [run.split("cell-timeout=120 ")[1].split()[0] for run in runs]
    assert asked == ["tests", "tests/browser"]
    assert "notebooks --ignore=tests/browser" in runs[0]
    assert all("--dist loadfile" in run for run in runs)
    assert launch.run_tests(str(python), ["tests/test_launch.py", "-k", "codes"]) == 0
    assert launch.run_tests(str(python), ["-k", "none"]) == 5


# --- the door of an installed wheel -----------------------------------------------------------


@pytest.fixture
def shipped(tmp_path) -> Path:
    for name in (
        "notebooks/01.ipynb",
        "notebooks/.ipynb_checkpoints/01-checkpoint.ipynb",
        "data/heats.csv",
        "data/__pycache__/make.pyc",
        "tests/test_x.py",
    ):
        (tmp_path / "shipped" / name).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / "shipped" / name).write_text(f"shipped {name}")
    return tmp_path / "shipped"


def test_a_working_copy_is_laid_and_nothing_else(tmp_path, shipped):
    laid, kept = door.lay(tmp_path / "new" / "place", shipped)
    assert {str(p) for p in laid} == {"notebooks/01.ipynb", "data/heats.csv"} and not kept
    files = {p for p in (tmp_path / "new" / "place").rglob("*") if p.is_file()}
    assert {str(p.relative_to(tmp_path / "new" / "place")) for p in files} == {
        "notebooks/01.ipynb",
        "data/heats.csv",
    }


def test_what_the_user_has_is_never_overwritten(tmp_path, shipped):
    (tmp_path / "mine" / "data").mkdir(parents=True)
    (tmp_path / "mine" / "data" / "heats.csv").write_text("my own heats")
    laid, kept = door.lay(tmp_path / "mine", shipped)
    assert [p.name for p in laid] == ["01.ipynb"] and [p.name for p in kept] == ["heats.csv"]
    assert (tmp_path / "mine" / "data" / "heats.csv").read_text() == "my own heats"


def test_the_command_lays_and_stops(tmp_path):
    folder = tmp_path / "work"
    first = run(sys.executable, "-m", "gradekit", "--lay", folder, cwd=launch.ROOT)
    assert first.returncode == 0 and " files laid." in first.stdout
    assert (folder / "data" / "heats.csv").read_bytes() == (
        launch.ROOT / "data" / "heats.csv"
    ).read_bytes()
    again = run(sys.executable, "-m", "gradekit", "--lay", folder, cwd=launch.ROOT)
    assert "0 files laid" in again.stdout and "left as they were" in again.stdout


def test_a_place_that_is_none_is_refused_in_words(tmp_path):
    (tmp_path / "file").touch()
    answer = run(sys.executable, "-m", "gradekit", "--lay", tmp_path / "file", cwd=launch.ROOT)
    assert answer.returncode == 1 and "could not be laid into" in answer.stderr
    assert "Traceback" not in answer.stderr
