"""Use an installed wheel as a stranger would, away from the clone it was built in.

    python check_wheel.py FOLDER

Lays a working copy into FOLDER with `python -m gradekit --lay`, reads the heats that came along,
evaluates them, and runs the first notebook there. It stops with words at the first thing that is
not as it should be.
"""

from __future__ import annotations

import math
import subprocess
import sys
from importlib.metadata import version
from pathlib import Path

FIRST_NOTEBOOK = "01-lean-nickel.ipynb"


def main(folder: Path) -> None:
    import gradekit as gk

    home = Path(gk.__file__).resolve().parent
    demand(home.is_relative_to(Path(sys.prefix).resolve()), f"imported from {home}, not installed")
    demand(
        version("gradekit") == gk.__version__, "the wheel and the package disagree on the version"
    )

    heat = {"C": 0.045, "Si": 0.4, "Mn": 1.5, "Cr": 18.2, "Ni": 8.1, "Mo": 0.3, "N": 0.05}
    found = gk.evaluate(heat, names=["pren_16n"]).values.iloc[0, 0]
    by_hand = 18.2 + 3.3 * 0.3 + 16 * 0.05
    demand(math.isclose(found, by_hand, abs_tol=1e-9), f"PREN is {found}, by hand {by_hand}")

    for laid in (True, False):
        say = run("-m", "gradekit", "--lay", str(folder))
        demand((": 0 files laid" not in say) == laid, f"laying said: {say}")
    heats = gk.read_heats(folder / "data" / "heats.csv")
    result = gk.evaluate(heats)
    demand(result.values.shape == (len(heats), len(gk.catalogue())), "not every relation answered")
    demand(result.values["pren_16n"].notna().any(), "no heat of the demo data has a PREN")

    notebook = folder / "notebooks" / FIRST_NOTEBOOK
    demand(notebook.is_file(), f"{FIRST_NOTEBOOK} did not come along")
    run("-m", "nbconvert", "--execute", "--to", "notebook", "--inplace", str(notebook))
    print(
        f"gradekit {gk.__version__} from its wheel: {len(heats)} heats, "
        f"{len(gk.catalogue())} relations, {FIRST_NOTEBOOK} runs"
    )


def run(*arguments: str) -> str:
    done = subprocess.run([sys.executable, *arguments], capture_output=True, text=True)
    demand(not done.returncode, f"{' '.join(arguments)} failed:\n{done.stderr}")
    return done.stdout


def demand(true: bool, otherwise: str) -> None:
    if not true:
        sys.exit(f"check_wheel: {otherwise}")


if __name__ == "__main__":
    main(Path(sys.argv[1]).resolve())
