"""Hostile files of fixed seeds: read as a person reads them, or refused in words, in bounded time.

For longer runs: `python tests/heats/test_fuzz_reading.py SECONDS [FIRST SEED]` prints its counts.
"""

from __future__ import annotations

import os
import random
import re
import sys
import tempfile
import time
import traceback
import warnings
from collections import Counter
from pathlib import Path

import numpy as np

import gradekit as gk
from gradekit.heats import read_scatter
from gradekit.heats.certificates.headers import column_element
from gradekit.heats.notes import notes_of
from gradekit.properties.fit.source import table_of
from gradekit.works.melt.price_book import as_price_book, as_recoveries

sys.path[:0] = [str(Path(__file__).resolve().parents[1] / "kits")]

import hostile_files as hostile  # noqa: E402

READERS = {
    "prices": gk.read_prices,
    "plant": gk.read_plant,
    "scatter": read_scatter,
    "recoveries": as_recoveries,
    "book": as_price_book,
    "tests": lambda path: table_of(path, "Rp0.2"),
}
#: In a run of all tests; other runs say how long they last.
SECONDS = float(os.environ.get("GRADEKIT_FUZZ_SECONDS", 30))
INPUTS = 700
_SLOW = 5.0


def _header(raw: bytes, dialect: hostile.Dialect) -> tuple[str, list[str]]:
    """Return the line of headers as it was written, and the element of each column."""
    text = raw.decode(dialect.encoding, "replace").lstrip("\ufeff")
    for line in re.split("\r\n|\r|\n", text):
        cells = line.split(dialect.delimiter)
        named = [h.element if (h := column_element(c)) else "" for c in cells]
        if sum(map(bool, named)) >= 2:
            return line, named
    raise AssertionError("the generator writes a header")


def _agree(raw: bytes, dialect: hostile.Dialect, spoilt: bool, header: tuple) -> list[str]:
    """Return where the library and the plain reading of a file differ without a word."""
    heats = gk.read_heats(raw)
    line, columns = header
    lines = re.split("\r\n|\r|\n", raw.decode(dialect.encoding, "replace").lstrip("\ufeff"))
    whole = line in lines
    faults = []
    plain = hostile.plain_reading(raw, dialect, columns)
    told = "\n".join(gk.messages(heats)) + str([e[:4] for e in notes_of(heats)["report"]])
    told += str(gk.about(heats).to_numpy().tolist())
    # A mark that is no quotation mark stays in the name, and is seen there.
    called = {str(name).strip('"\ufeff\ufffd '): name for name in heats.index}
    for name, rows in plain.items():
        if name not in called:
            if name not in told:
                faults.append(f"{name} is lost")
            continue
        if len(rows) > 1 or any(str(n).startswith(f"{called[name]} (") for n in heats.index):
            continue
        for element, value in rows[0].items():
            found = heats.at[called[name], element] if element in heats else np.nan
            # What stood under a damaged header is reported as not understood.
            if not np.isclose(found, value, rtol=1e-9, atol=0) and (whole or found == found):
                faults.append(f"{name} {element}: {found} for {value}")
    if not spoilt and set(heats.index) != set(dialect.truth):
        faults.append(f"heats {list(heats.index)} for {list(dialect.truth)}")
    if not spoilt:
        for name, contents in dialect.truth.items():
            for element, value in contents.items():
                if not np.isclose(heats.at[name, element], value, rtol=1e-9, atol=0):
                    faults.append(f"{name} {element}: {heats.at[name, element]} for true {value}")
    return faults


def one(seed: int, folder: Path) -> tuple[str, str]:
    """Read the file of a seed; return its kind and what came of it."""
    rng = random.Random(seed)
    kind = rng.choice(["heats", "heats", "heats", "paste", "xlsx", "json", *hostile.TABLES])
    start = time.process_time()
    try:
        if kind in ("heats", "paste"):
            raw, dialect = hostile.heats_file(rng)
            header = _header(raw, dialect)
            spoilt = rng.random() < 0.7
            if spoilt:
                raw = hostile.spoil(rng, raw, dialect)
            faults = _agree(raw, dialect, spoilt, header)
            end = "; ".join(faults) or "read"
        elif kind in ("xlsx", "json"):
            make = hostile.workbook_file if kind == "xlsx" else hostile.json_file
            gk.read_heats(make(rng))
            end = "read"
        else:
            path = folder / f"{kind}.csv"
            path.write_bytes(hostile.table_file(rng, kind))
            READERS[kind](path)
            end = "read"
    except gk.InputError as error:
        end = "refused" if " · must be " in str(error) else f"refused without words: {error}"
    except Exception:
        end = traceback.format_exc(limit=-3)
    if time.process_time() - start > _SLOW:
        end = f"took {time.process_time() - start:.0f} s: {end}"
    return kind, end


def run(
    seconds: float, first: int = 0, inputs: int | None = None
) -> tuple[Counter, dict[int, str]]:
    """Read files of seed after seed; return the counts, and what went wrong by seed."""
    counts: Counter = Counter()
    wrong: dict[int, str] = {}
    stop = time.monotonic() + seconds
    seed = first
    with tempfile.TemporaryDirectory() as folder, warnings.catch_warnings():
        warnings.simplefilter("ignore")
        while time.monotonic() < stop and (inputs is None or seed < first + inputs):
            kind, end = one(seed, Path(folder))
            counts[kind, end if end in ("read", "refused") else "wrong"] += 1
            if end not in ("read", "refused"):
                wrong[seed] = f"{kind}: {end}"
            seed += 1
    return counts, wrong


def test_hostile_files_are_read_rightly_or_refused_in_words():
    counts, wrong = run(SECONDS, inputs=INPUTS)
    assert not wrong, "\n".join(f"seed {seed}: {end}" for seed, end in list(wrong.items())[:5])
    assert counts["heats", "read"] and counts["heats", "refused"]


if __name__ == "__main__":
    import resource

    lasting = float(sys.argv[1]) if len(sys.argv) > 1 else 600.0
    totals, faults = run(lasting, int(sys.argv[2]) if len(sys.argv) > 2 else 1_000_000)
    for (kind, end), count in sorted(totals.items()):
        print(f"{kind:12} {end:8} {count}")
    memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1000
    print(f"{totals.total()} inputs, {len(faults)} wrong, at most {memory:.0f} MB")
    for seed, fault in list(faults.items())[:20]:
        print(f"seed {seed}: {fault}")
