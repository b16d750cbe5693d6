"""Time what a works does with its history: each step of the report on 5,000 heats.

    python tests/bench/works_history.py [HEATS]

Prints seconds of processor and of the clock a step, and how each compares with reading the file:
ratios of one run, for times drift with whatever else the machine does.
"""

from __future__ import annotations

import csv
import io
import itertools
import random
import sys
import time
from datetime import date, timedelta
from pathlib import Path

import gradekit as gk
from gradekit.heats.writing import to_bytes

DATA = Path(__file__).resolve().parents[2] / "data"


def history(heats: int) -> bytes:
    """A long history made of the demo's heats, each content off by some two per cent."""
    draw = random.Random(1)
    head, *rows = csv.reader((DATA / "heats.csv").read_text("utf-8").splitlines())
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(head)
    for number in range(heats):
        row = list(draw.choice(rows))
        row[0] = f"K{number:06}"
        row[2] = (date(2015, 1, 1) + timedelta(days=4000 * number // heats)).isoformat()
        for k, cell in enumerate(row[3:-1], start=3):
            text = cell.replace(",", ".")
            if text.replace(".", "", 1).isdigit():
                decimals = len(text.partition(".")[2])
                row[k] = f"{float(text) * draw.gauss(1, 0.02):.{decimals}f}"
        writer.writerow(row)
    return out.getvalue().encode()


def main(heats: int) -> None:
    content = history(heats)
    marks = [("read the file", time.perf_counter(), time.process_time())]
    batch = gk.read_heats(content)

    def told(step: str, share: float) -> None:
        marks.append((step, time.perf_counter(), time.process_time()))

    report = gk.sheets.heats_report(batch, DATA / "element_prices.csv", "1.4301", told=told)
    marks[-1] = ("page", *marks[-1][1:])
    report._repr_html_()
    told("workbook", 1.0)
    to_bytes(report.tables())
    told("", 1.0)
    first = marks[1][2] - marks[0][2]
    print(f"{heats} heats, {len(content) / 1e6:.1f} MB")
    for (step, wall, cpu), (_, next_wall, next_cpu) in itertools.pairwise(marks):
        spent = next_cpu - cpu
        print(f"{step:28}{spent:7.2f} s processor{next_wall - wall:7.2f} s clock"
              f"{spent / first:8.1f} times reading")  # fmt: skip


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 5000)
