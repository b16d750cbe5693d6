"""What `import gradekit` costs beside `import pandas`, and what is the package's own part.

    python tests/bench/import_cost.py [rounds]

A report, not a test: every round starts one fresh interpreter for each, in turn, so that a slow
spell of the machine hits all alike; medians and the ratio of medians are printed.
"""

from __future__ import annotations

import statistics
import subprocess
import sys
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
AIM = 1.25
CASES = {"nothing": "pass", "pandas": "import pandas", "gradekit": "import gradekit"}


def seconds(code: str) -> float:
    began = time.perf_counter()
    subprocess.run([sys.executable, "-c", code], check=True, cwd=ROOT)
    return time.perf_counter() - began


def main(rounds: int) -> None:
    for code in CASES.values():
        seconds(code)  # fills the disk cache and writes the byte code
    times = {name: [] for name in CASES}
    for _ in range(rounds):
        for name, code in CASES.items():
            times[name].append(seconds(code))
    start = statistics.median(times["nothing"])
    medians = {name: statistics.median(t) - start for name, t in times.items()}
    for name in ("pandas", "gradekit"):
        low, high = min(times[name]) - start, max(times[name]) - start
        print(f"import {name:9}{medians[name]:7.3f} s   ({low:.3f} to {high:.3f}, {rounds} rounds)")
    ratio = medians["gradekit"] / medians["pandas"]
    print(
        f"ratio           {ratio:7.2f}     (aim: at most {AIM}; bare interpreter {start:.3f} s off)"
    )


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 9)
