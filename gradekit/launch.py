"""The front door of a clone: sets everything up, then opens JupyterLab or runs the tests.

    python3 gradekit/launch.py           set everything up and open JupyterLab
    python3 gradekit/launch.py test      run every test; what follows goes to pytest
    python3 gradekit/launch.py app       show the desk for substitutions as a page without code
    python3 gradekit/launch.py app heats show what a file of heats says, as a page without code
    python3 gradekit/launch.py renew     take the newest versions of all packages for tested

Standard library only, and nothing of the package: it runs before anything is installed.
"""

import os
import sys

# A script's own folder comes first on the path, and some of its modules are named like those of
# the standard library.
if __name__ == "__main__":
    own = os.path.dirname(os.path.realpath(__file__))
    sys.path[:] = [p for p in sys.path if os.path.realpath(p) != own]

import argparse
import hashlib
import json
import shutil
import subprocess
import tempfile
from pathlib import Path

# Before any annotation that an older Python cannot read.
if sys.version_info < (3, 11):  # noqa: UP036
    sys.exit(
        "gradekit needs Python 3.11 or newer; this is Python {}.{} ({}).\n"
        "Install a newer one and start again with it, for example: "
        "python3.12 gradekit/launch.py".format(*sys.version_info[:2], sys.executable)
    )

ROOT = Path(__file__).resolve().parent.parent
FIRST_PAGE = "notebooks/00-start-here.ipynb"
APP_PAGE = "05-substitution.ipynb"
#: The pages of the app by the word after `app`; without a word the desk opens.
APP_PAGES = {"substitution": APP_PAGE, "heats": "08-your-works.ipynb"}
NOTEBOOK_TESTS = ["--nbval-lax", "--nbval-current-env", "--nbval-cell-timeout=120"]

# With the settings in this folder a page asks nothing of any other machine: JupyterLab looks for no
# news, and in the page view the browser is told to load from this server alone, icons included.
LAB_SETTINGS = Path(__file__).with_name("lab")

# The versions that the tests have seen, with markers for Python and system: a new machine next year
# gets these. `pip install .` is free to take others within the bounds of pyproject.toml.
TESTED = LAB_SETTINGS / "constraints.txt"
RENEW = "pip compile --universal --upgrade --all-extras --no-annotate --no-header --quiet"


def main(argv: list[str]) -> int:
    """Do what the command line asks and return the exit code."""
    if not (ROOT / "pyproject.toml").is_file():
        sys.exit("This copy of gradekit is installed, not a clone. Use: python -m gradekit")
    if argv[:1] == ["test"]:
        return run_tests(environment("test", "app"), argv[1:])
    if argv == ["renew"]:
        return renew(environment("test", "app"))
    parser = argparse.ArgumentParser(
        prog="launch.py", description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("what", nargs="?", choices=["lab", "test", "app", "renew"], default="lab")
    parser.add_argument("page", nargs="?", choices=list(APP_PAGES), help="with app: which page")
    parser.add_argument("--no-browser", action="store_true", help="print the address only")
    parser.add_argument("--all", action="store_true", help="with app: a page for every notebook")
    options = parser.parse_args(argv)
    if options.page and options.what != "app":
        parser.error(f"'{options.page}' is a page of the app: app {options.page}")
    if options.what == "app":
        page = "" if options.all else APP_PAGES[options.page or "substitution"]
        return start(app_command(environment("app"), ROOT, not options.no_browser, page))
    return start(lab_command(environment(), ROOT, not options.no_browser))


# --- what is started ------------------------------------------------------------------------


def lab_command(python: str, folder: Path, browser: bool = True) -> list[str]:
    """Return the command that serves `folder` in JupyterLab, to this machine only.

    The token stays on and the next free port is taken, both by Jupyter's own defaults.
    """
    return [
        *[python, "-m", "jupyterlab", "--ServerApp.ip=127.0.0.1"],
        f"--ServerApp.root_dir={folder}",
        f"--LabApp.default_url=/lab/tree/{FIRST_PAGE}",
        "--LabApp.extension_manager=readonly",
        *([] if browser else ["--no-browser"]),
        *(["--allow-root"] if hasattr(os, "geteuid") and os.geteuid() == 0 else []),
    ]


def app_command(python: str, folder: Path, browser: bool = True, page: str = APP_PAGE) -> list[str]:
    """Return the command that shows the notebooks of `folder` as pages, to this machine only.

    It opens `page`, or without one a list of all of them. The settings end a kernel ten minutes
    after its last use, should a page be gone that could not say so.
    """
    return [
        *[python, "-m", "gradekit.lab.app", str(folder / "notebooks"), "--token"],
        "--Voila.ip=127.0.0.1",
        *([f"--first={page}"] if page else []),
        *([] if browser else ["--no-browser"]),
    ]


def server_settings() -> dict[str, str]:
    """Return the environment variables of a server: those of this process and our settings."""
    folders = [str(LAB_SETTINGS), os.environ.get("JUPYTER_CONFIG_PATH", "")]
    return {**os.environ, "JUPYTER_CONFIG_PATH": os.pathsep.join(filter(None, folders))}


def start(command: list[str]) -> int:
    """Run a server in the place of this process, so that a signal reaches it directly."""
    sys.stdout.flush()
    if os.name == "posix":
        os.execve(command[0], command, server_settings())
    return subprocess.call(command, env=server_settings())


def run_tests(python: str, arguments: list[str]) -> int:
    """Run every test, or pytest with the arguments given, and return the exit code."""
    # The browser driver keeps an event loop that notebook kernels cannot share, so there are two
    # runs. Both go file by file to every core; more than four browsers only wait for each other.
    spread = ["-n", "auto", "--dist", "loadfile"]
    shared = ["tests", "notebooks", "--ignore=tests/browser", *spread]
    runs = [arguments] if arguments else [shared, ["tests/browser", *spread, "--maxprocesses=4"]]
    codes = [
        subprocess.call([python, "-m", "pytest", *NOTEBOOK_TESTS, *run], cwd=ROOT) for run in runs
    ]
    return max(codes, key=abs)


def renew(python: str) -> int:
    """Write the newest versions that fit into the file of tested ones, and return the exit code.

    The next start installs them; what the tests then say decides whether the file is kept.
    """
    install(python, ["uv"], Path(python).parents[1] / "install.log")
    command = [python, "-m", "uv", *RENEW.split(), "pyproject.toml", "--output-file", str(TESTED)]
    code = subprocess.call(command, cwd=ROOT)
    if not code:
        print(f"{TESTED.relative_to(ROOT)} is renewed. Now: python3 gradekit/launch.py test")
    return code


# --- the environment ------------------------------------------------------------------------


def environment(*extras: str, folder: Path = ROOT / ".venv") -> str:
    """Return the Python of an environment that holds the package and these extras.

    What is there and in order is used as it is; the stamp in the folder tells.
    """
    python, stamp_file = python_of(folder), folder / "gradekit.json"
    wanted = {
        "pyproject": hashlib.sha256((ROOT / "pyproject.toml").read_bytes()).hexdigest(),
        "tested": hashlib.sha256(TESTED.read_bytes()).hexdigest(),
        "root": str(ROOT),
        "python": _answer([python, "-c", "import sys; print(sys.version_info[:2])"]),
    }
    try:
        stamp = json.loads(stamp_file.read_text())
    except (OSError, ValueError):
        stamp = {}
    present = set(stamp.pop("extras", []))
    if wanted["python"] and stamp == wanted and present.issuperset(extras):
        return python

    if not wanted["python"] or stamp.get("python", wanted["python"]) != wanted["python"]:
        print(f"Making an environment in {folder} ...", flush=True)
        make_environment(folder)
        wanted["python"] = _answer([python, "-c", "import sys; print(sys.version_info[:2])"])
        present = set()
    print("Installing what is needed (about a minute, this time only) ...", flush=True)
    stamp_file.unlink(missing_ok=True)
    extras = tuple(sorted(present.union(extras)))
    package = f"{ROOT}[{','.join(extras)}]" if extras else str(ROOT)
    install(python, ["--constraint", str(TESTED), "--editable", package], folder / "install.log")
    stamp_file.write_text(json.dumps({**wanted, "extras": extras}, indent=1))
    return python


def python_of(folder: Path) -> str:
    """Return where the Python of an environment is."""
    return str(folder / ("Scripts/python.exe" if os.name == "nt" else "bin/python"))


def make_environment(folder: Path) -> None:
    """Make a virtual environment with whatever this Python came with, or say what is missing."""
    host = sys.executable
    ways = [
        [host, "-m", "venv", "--clear", folder],
        [host, "-m", "venv", "--clear", "--without-pip", folder],
        [host, "-m", "virtualenv", "--clear", folder],
        ["uv", "venv", "--clear", "--python", host, folder],
    ]
    if not any(_works(way) and _works([python_of(folder), "-c", ""]) for way in ways):
        with tempfile.TemporaryDirectory() as borrowed:
            # Into a folder of its own pip may install even where the system's Python is not to be
            # touched.
            _works([host, "-m", "pip", "install", "--quiet", "--target", borrowed, "virtualenv"])
            path = {**os.environ, "PYTHONPATH": borrowed}
            if not _works([host, "-m", "virtualenv", "--clear", folder], env=path):
                sys.exit(_missing("a virtual environment"))


def install(python: str, what: list[str], log: Path) -> None:
    """Install into the environment of `python` with any pip at hand; `log` keeps what it said."""
    settings = {"PIP_USER": "0", "PIP_NO_INPUT": "1", "PIP_DISABLE_PIP_VERSION_CHECK": "1"}
    ways = [
        [python, "-m", "pip", "install"],
        [sys.executable, "-m", "pip", "--python", python, "install"],
        ["pip3", "--python", python, "install"],
        ["uv", "pip", "install", "--python", python],
    ]
    way = next((way for way in ways if _works([*way, "--help"])), None)
    if way is None:
        sys.exit(_missing("pip"))
    with open(log, "w", encoding="utf-8") as story:
        run = subprocess.Popen(
            [*way, *what],
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            env={**os.environ, **settings},
            text=True,
            errors="replace",
        )
        for line in run.stdout or ():
            story.write(line)
            if sys.stdout.isatty() and line.startswith(("Collecting", "Installing")):
                print("\r  " + line.strip()[:70].ljust(70), end="", flush=True)
    if sys.stdout.isatty():
        print("\r" + " " * 72 + "\r", end="")
    if run.wait():
        last = log.read_text(encoding="utf-8").splitlines()[-12:]
        sys.exit(
            "\n".join(last) + "\n\nThe packages could not be installed; the lines above are the "
            f"last of {log}.\nIs the network up, and is there 1.5 GB of free disk? "
            "Start again and it goes on from here."
        )


def _works(command: list, **options) -> bool:
    return _answer(command, **options) is not None


def _answer(command: list, **options) -> str | None:
    """Return what a command prints, or None where it is not there or fails."""
    if not shutil.which(command[0]):
        return None
    run = subprocess.run(command, capture_output=True, text=True, **options)
    return None if run.returncode else run.stdout.strip()


def _missing(thing: str) -> str:
    return (
        f"This Python ({sys.executable}) came without what it takes for {thing}.\n"
        "On Debian or Ubuntu:  sudo apt install python3-venv\n"
        "On Fedora:            sudo dnf install python3-pip\n"
        "Elsewhere install Python from its makers or your package manager, with pip; then start "
        "again."
    )


if __name__ == "__main__":
    try:
        sys.exit(main(sys.argv[1:]))
    except KeyboardInterrupt:
        sys.exit("\nStopped. Start again and it goes on from where it was.")
