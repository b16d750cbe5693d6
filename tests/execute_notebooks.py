"""Run notebooks and write them back with their outputs, ready to be committed and read anywhere.

    python tests/execute_notebooks.py                      all notebooks
    python tests/execute_notebooks.py 01-lean-nickel ...   these

A notebook whose cells raise is left as it was. State of widgets is dropped: with it kept, an
offline page of the notebook would be blank where the panel's still picture should stand. What a
page shows is kept once: of a text beside it the first line, of a table no line of its own a cell.
"""

from __future__ import annotations

import os
import sys
import time
from pathlib import Path

import nbformat
from nbclient import NotebookClient
from nbclient.exceptions import CellExecutionError

ROOT = Path(__file__).resolve().parent.parent
NOTEBOOKS = ROOT / "notebooks"
LARGEST = 200_000  # bytes
# What differs from one machine or run to the next and tells a reader nothing.
TRANSIENT = ("execution", "widgets")
CHECKED = "NBVAL_CHECK_OUTPUT"  # compared with a new run, letter by letter
sys.path.insert(0, str(ROOT))

from gradekit.core.files import write_whole  # noqa: E402


def execute(path: Path) -> str:
    """Run a notebook in its own folder and return its new text."""
    notebook = nbformat.read(path, as_version=4)
    NotebookClient(
        notebook, timeout=300, kernel_name="python3", resources={"metadata": {"path": path.parent}}
    ).execute()
    notebook.metadata = nbformat.from_dict(
        {"kernelspec": {"name": "python3", "display_name": "Python 3", "language": "python"}}
    )
    for number, cell in enumerate(notebook.cells, start=1):
        cell.id = f"c{number:02}"
        for key in TRANSIENT:
            cell.metadata.pop(key, None)
        for output in cell.get("outputs", []) if CHECKED not in cell.source else ():
            once(output.get("data", {}))
    return nbformat.writes(notebook) + "\n"


def once(data: dict) -> None:
    """Keep of what an output says twice the page, and of its text what names it."""
    if page := data.get("text/html"):
        data["text/plain"] = " ".join(data.get("text/plain", "").partition("\n")[0].split())
        if 'class="dataframe"' in page:
            data["text/html"] = "".join(line.strip() for line in page.splitlines())


def main(names: list[str]) -> int:
    """Execute the notebooks of these names, or all, and return the exit code."""
    os.environ["PYTHONPATH"] = os.pathsep.join([str(ROOT), os.environ.get("PYTHONPATH", "")])
    paths = [p for p in sorted(NOTEBOOKS.glob("*.ipynb")) if not names or p.stem in names]
    if missing := set(names) - {p.stem for p in paths}:
        sys.exit(f"no such notebook: {', '.join(sorted(missing))}")
    wrong = 0
    for path in paths:
        start = time.perf_counter()
        try:
            text = execute(path)
        except CellExecutionError as error:
            print(f"{path.name}: left as it was\n{error}", file=sys.stderr)
            wrong += 1
            continue
        write_whole(path, text)
        size = len(text.encode())
        note = f", larger than {LARGEST // 1000} kB" if size > LARGEST else ""
        seconds = time.perf_counter() - start
        print(f"{path.name}: {seconds:.1f} s, {size // 1000} kB{note}")
        wrong += size > LARGEST
    return min(wrong, 1)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
