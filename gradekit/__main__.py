"""`python -m gradekit`: lay a working copy of the notebooks and open JupyterLab on it.

`python -m gradekit app` shows the desk for substitutions as a page without code instead, and
`python -m gradekit app heats` what a file of heats says.
"""

from __future__ import annotations

import argparse
import sys
from importlib.util import find_spec
from pathlib import Path

from gradekit import launch
from gradekit.core.files import write_whole

# Inside an installed wheel the notebooks and the demo data lie here; a clone has them at its top.
PACKED = Path(__file__).with_name("_start")
_PARTS = ("notebooks", "data")
DEFAULT_FOLDER = "gradekit-notebooks"


def lay(folder: Path, shipped: Path) -> tuple[list[Path], list[Path]]:
    """Lay a working copy into a folder and touch nothing that is there already.

    Parameters
    ----------
    folder : Path
        Where to; made if need be.
    shipped : Path
        The folder that holds `notebooks` and `data`.

    Returns
    -------
    laid, kept : list of Path
        The files written, and those left as they were, relative to the folder.

    Examples
    --------
    >>> import tempfile
    >>> home = Path(tempfile.mkdtemp())
    >>> (home / "a" / "data").mkdir(parents=True)
    >>> _ = (home / "a" / "data" / "heats.csv").write_text("heat,Cr")
    >>> [[p.name for p in names] for names in lay(home / "b", home / "a")]
    [['heats.csv'], []]
    >>> [[p.name for p in names] for names in lay(home / "b", home / "a")]
    [[], ['heats.csv']]
    """
    laid, kept = [], []
    for source in sorted(p for part in _PARTS for p in (shipped / part).rglob("*") if p.is_file()):
        name = source.relative_to(shipped)
        if any(piece.startswith((".", "__")) for piece in name.parts):
            continue
        if (folder / name).exists():
            kept.append(name)
            continue
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        write_whole(folder / name, source.read_bytes())
        laid.append(name)
    return laid, kept


def main(argv: list[str]) -> int:
    """Do what the command line asks and return the exit code."""
    app = argv[:1] == ["app"]
    named = app and argv[1:2] and argv[1] in launch.APP_PAGES
    page = launch.APP_PAGES[argv[1]] if named else launch.APP_PAGE
    parser = argparse.ArgumentParser(prog="python -m gradekit", description=__doc__)
    parser.add_argument(
        "folder",
        nargs="?",
        type=Path,
        help=f"where to work: '{DEFAULT_FOLDER}' here if not given, in a clone the clone itself",
    )
    parser.add_argument("--lay", action="store_true", help="lay the working copy and stop")
    parser.add_argument("--no-browser", action="store_true", help="print the address only")
    options = parser.parse_args(argv[app + bool(named) :])
    if app and find_spec("voila") is None:
        sys.exit("The page view needs Voilà. Install it with: pip install 'gradekit[app]'")

    shipped = PACKED if PACKED.is_dir() else launch.ROOT
    folder = options.folder or (launch.ROOT if shipped == launch.ROOT else Path(DEFAULT_FOLDER))
    folder = folder.resolve()
    if folder != launch.ROOT:
        try:
            laid, kept = lay(folder, shipped)
        except OSError as error:
            sys.exit(f"The notebooks could not be laid into {folder}: {error.strerror}.")
        left = f"; {len(kept)} already there and left as they were" if kept else ""
        print(f"{folder}: {len(laid)} files laid{left}.")
    if options.lay:
        return 0
    if app:
        return launch.start(
            launch.app_command(sys.executable, folder, not options.no_browser, page)
        )
    return launch.start(launch.lab_command(sys.executable, folder, not options.no_browser))


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
