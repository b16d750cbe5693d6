"""How long a large CSV takes to read, and how much memory, each size in a process of its own.

    python tests/bench/reading_speed.py [MB ...]

The files are made in a folder that is removed afterwards: three decimals and bounds in 11 columns
of contents, a name and two remarks a heat. `pandas` is `pd.read_csv` of the same file, which gives
texts where there are bounds. Nothing here is asserted.
"""

from __future__ import annotations

import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

ELEMENTS = "C Si Mn P S Cr Ni Mo N Cu".split()
MIDDLE = np.array([0.03, 0.5, 1.5, 0.03, 0.002, 18, 8.5, 0.3, 0.06, 0.3])
ROW = "H{:07d},1.4301 / 304,{:.3f},{:.2f},{:.2f},{:.3f},{:.4f},{:.2f},{:.2f},{:.2f},{:.3f},{:.2f}"


def make(path: Path, megabytes: float) -> None:
    rng = np.random.default_rng(1)
    with path.open("w") as file:
        size = file.write(f"heat,grade,{','.join(ELEMENTS)},Ti,note\n")
        heats = 0
        while size < megabytes * 1e6:
            contents = np.abs(rng.normal(MIDDLE, 0.1 * MIDDLE, (20_000, len(MIDDLE)))).tolist()
            rows = [
                ROW.format(heats + i, *row)
                + (",<0.005,works\n" if i % 50 == 0 else ",0.011,works\n")
                for i, row in enumerate(contents)
            ]
            heats += len(rows)
            size += file.write("".join(rows))


def measure(reader: str, path: str) -> None:
    import pandas as pd

    import gradekit as gk

    read = {"gradekit": gk.read_heats, "pandas": pd.read_csv}[reader]
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    start = time.perf_counter()
    table = read(path)
    seconds = time.perf_counter() - start
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    kept = table.memory_usage(deep=True).sum() / 1e6
    size = Path(path).stat().st_size / 1e6
    print(
        f"{reader:9s} {size:6.0f} MB, {len(table):8d} heats: {seconds:5.1f} s, "
        f"peak {peak - before:5.0f} MB above the start, table {kept:5.0f} MB"
    )


def main(sizes: list[float]) -> None:
    with tempfile.TemporaryDirectory() as folder:
        for megabytes in sizes:
            path = Path(folder) / "heats.csv"
            make(path, megabytes)
            for reader in ("gradekit", "pandas"):
                subprocess.run([sys.executable, __file__, "--", reader, str(path)], check=True)


if __name__ == "__main__":
    if "--" in sys.argv:
        measure(*sys.argv[-2:])
    else:
        main([float(a) for a in sys.argv[1:]] or [20, 200])
