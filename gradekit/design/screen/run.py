"""Screen a space: block after block, here or on a cluster, and go on where it was stopped."""

from __future__ import annotations

import hashlib
import json
import os
import sys
import time
from collections.abc import Callable, Iterable, Iterator, Mapping
from concurrent.futures import FIRST_COMPLETED, Future, ThreadPoolExecutor, as_completed, wait
from pathlib import Path
from typing import Any, cast

import numpy as np
import pandas as pd

from gradekit.core.errors import InputError, said
from gradekit.core.files import write_whole
from gradekit.core.json_text import read_json
from gradekit.design.brief import Brief
from gradekit.design.prices import Prices, PricesLike, read_prices
from gradekit.design.problem import build
from gradekit.design.screen.answer import Screening
from gradekit.design.screen.space import Levels, Space, space_of
from gradekit.design.screen.tally import Judge, Tally

_MANIFEST = "screen.json"
# Of what stands in the file of a block; a folder of another one is not gone on with.
_FORMAT = 2
# Blocks handed out at once for each thread: enough to keep a cluster at work.
_AHEAD = 4


def screen(
    space: Mapping[str, Levels],
    brief: Brief,
    k: int = 20,
    folder: str | os.PathLike[str] | None = None,
    client: Any = None,
    sample: int | tuple[str, int] | None = None,
    seed: int = 0,
    *,
    prices: PricesLike | None = None,
    progress: bool | None = None,
    survivors: bool = False,
    maps: Iterable[tuple[str, str]] = (),
) -> Screening:
    """Hold every composition of a space against a brief.

    Parameters
    ----------
    space : mapping of element to (low, high, step), a list of contents, or one content, wt%
        Their product may have ten thousand million compositions; memory does not grow with it.
    brief : Brief
        All its constraints count, without guard bands; `minimise` says what is best.
    k : int
        How many of the best are kept.
    folder : path, optional
        Where each finished block is written. Started again with the same folder, space, brief and
        maps a stopped run goes on and ends with the same bytes.
    client : dask.distributed.Client, optional
        A cluster to run on (`pip install gradekit[cluster]`); else the cores of this machine.
    sample : int or (method, int), optional
        Look at so many compositions only: 'sobol' by default, 'random' or 'latin'.
    seed : int
        Of the sample. The answer depends on it alone, not on chunks or workers.
    prices : Prices, path or DataFrame, optional
        What `read_prices` takes, where cost or footprint is limited or minimised.
    progress : bool, optional
        Whether share done, rate and time left are said; by default where it takes longer than two
        seconds.
    survivors : bool
        Whether the compositions that keep everything are written to `folder` as Parquet files.
    maps : pairs of elements, optional
        What `Screening.map` and `gk.pictures.space_map` can then show, such as `[("Ni", "N")]`.

    Returns
    -------
    Screening
        `.evaluated`, `.kept`, `.best` (best first, a column an element), `.by_constraint`,
        `.pairs`, `.ranges`; of two or three objectives `.best_by(name)`, and `.front`: those of
        which no other is better in all.

    Raises
    ------
    InputError
        A space or sample that cannot be read, an element of the brief that the space lacks, a
        folder that holds another screening.

    Examples
    --------
    >>> brief = Brief({"Cr": (0, 30), "Mo": (0, 5), "N": (0, 1)}, {"pren_16n": (20, None)},
    ...               minimise={"Cr": 1.0, "Mo": 10.0})
    >>> found = screen({"Cr": (16, 20, 0.5), "Mo": (0, 2, 0.5), "N": [0.02, 0.1]}, brief, k=1)
    >>> found.evaluated, found.kept, found.best.iloc[0].to_dict()
    (90, 69, {'Cr': 18.5, 'Mo': 0.0, 'N': 0.1, '1.0*Cr + 10.0*Mo': 18.5})
    """
    asked = space_of(space, sample, seed)
    book = None if prices is None else read_prices(prices)
    judge = _judge(asked, brief, book, k, maps)
    store = _Store(folder, _identity(judge, brief, book), survivors) if folder else None
    if survivors and store is None:
        raise InputError("folder", "given where survivors are to be kept", folder)
    total = Tally()
    missing = [n for n in range(asked.blocks) if store is None or not store.has(n)]
    clock = _Clock(asked, asked.blocks - len(missing), progress)
    parts = _blocks(judge, missing, store, client)
    try:
        for number, tally in parts:
            if store is None:
                total.add(tally, k)
            else:
                store.put(number, tally)
            clock.tick()
    except KeyboardInterrupt:
        clock.end()
        done = asked.blocks - len(missing) + clock.done
        where = f" with folder={os.fspath(folder)!r}" if folder else " with a folder="
        raise KeyboardInterrupt(
            f"Stopped after {done} of {asked.blocks} blocks. To go on, call screen again{where}."
        ) from None
    clock.end()
    if store is not None:
        for number in range(asked.blocks):
            total.add(store.get(number), k)
    return Screening(asked, brief, judge.labels, [q.key for q in judge.objectives], total)


def _judge(
    space: Space, brief: Brief, prices: Prices | None, k: int, maps: Iterable[tuple[str, str]]
) -> Judge:
    if isinstance(k, bool) or not isinstance(k, int) or k < 1:
        raise InputError("k", "how many of the best are kept, 1 or more", k)
    lacking = [e for e in brief.variables if e not in space.levels]
    if lacking:
        raise InputError("space", f"given for {', '.join(lacking)}, of which the brief speaks",
                         space.elements)  # fmt: skip
    further = {e: (None, None) for e in space.elements if e not in brief.variables}
    brief = brief.but(bounds=further) if further else brief
    problem = build(brief, prices)
    pairs = [cast("tuple[str, str]", tuple(pair)) for pair in maps]
    for pair in pairs:
        if len(pair) != 2 or not set(pair) <= set(space.levels):
            raise InputError("maps", "pairs of elements of the space, as [('Ni', 'N')]", pair)
    aims = brief.priced_objectives(prices.relations if prices is not None else {})
    return Judge(space, problem, list(aims), k, pairs)


def _blocks(
    judge: Judge, numbers: list[int], store: _Store | None, client: Any
) -> Iterator[tuple[int, Tally]]:
    """Yield the tally of each block, in any order; what a cluster loses is done again."""
    write = store.survivors_path if store is not None and store.survivors else None
    if client is None:
        threads = min(os.cpu_count() or 1, len(numbers) or 1)
        pool, shared = ThreadPoolExecutor(threads), judge
    else:
        threads = max(1, sum(client.nthreads().values()))
        pool = client.get_executor(pure=False, retries=5)
        shared = client.scatter(judge, broadcast=True)
    waiting: set[Future] = set()
    with pool:
        try:
            for number in numbers:
                waiting.add(pool.submit(_one, shared, number, write))
                if len(waiting) >= threads * _AHEAD:
                    done, waiting = wait(waiting, return_when=FIRST_COMPLETED)
                    yield from (future.result() for future in done)
            yield from (future.result() for future in as_completed(waiting))
        finally:
            for future in waiting:
                future.cancel()


def _one(judge: Judge, number: int, write: Callable | None) -> tuple[int, Tally]:
    tally, kept = judge.block(number)
    if write is not None:
        _write_survivors(judge.space, kept, write(number))
    return number, tally


def _write_survivors(space: Space, numbers: np.ndarray, path: Path) -> None:
    import io

    import pyarrow as pa
    import pyarrow.parquet as pq

    contents = space.contents(numbers) if len(numbers) else np.empty((0, len(space.elements)))
    columns = {"number": pa.array(numbers.astype(np.int64))}
    columns |= {e: pa.array(contents[:, k]) for k, e in enumerate(space.elements)}
    buffer = io.BytesIO()
    pq.write_table(pa.table(columns), buffer)
    write_whole(path, buffer.getvalue())


def _identity(judge: Judge, brief: Brief, prices: Prices | None) -> dict:
    """What a folder belongs to: the same space, constraints, objectives, prices, k and maps."""
    space = judge.space
    levels = {e: v.tolist() for e, v in space.levels.items()}
    quantities = [*judge.objectives, *(c.quantity for c in judge.constraints)]
    formulas = [r.formula for q in quantities for r in q.named.values()]
    content = [
        _FORMAT, levels, space.method, space.count, space.seed, judge.labels, formulas,
        repr(brief), brief.conditions, judge.k, judge.maps,
        prices.table.to_csv() if prices is not None else "",
    ]  # fmt: skip
    text = json.dumps(content, sort_keys=True, default=str)
    return {
        "format": "gradekit screening",
        "brief": repr(brief),
        "compositions": space.count,
        "blocks": space.blocks,
        "sign": hashlib.sha256(text.encode()).hexdigest(),
    }


class _Store:
    """The folder of a screening: a file a block, written whole or not at all."""

    def __init__(self, folder: str | os.PathLike[str], identity: dict, survivors: bool):
        self.folder, self.survivors = Path(folder), survivors
        try:
            self.folder.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise InputError("folder", "one that can be written", str(folder)) from error
        manifest = self.folder / _MANIFEST
        if manifest.is_file():
            known = read_json(manifest, "the manifest of a screening")
            if known.get("sign") != identity["sign"]:
                raise InputError(
                    f"folder {self.folder.name}", "empty, or of the same space, brief and maps",
                    said(f"a screening of {known.get('compositions')} compositions"),
                )  # fmt: skip
        else:
            write_whole(manifest, json.dumps(identity, indent=1) + "\n")

    def _path(self, number: int) -> Path:
        return self.folder / f"block-{number:08d}.json"

    def survivors_path(self, number: int) -> Path:
        """Return where the survivors of a block go."""
        return self.folder / f"survivors-{number:08d}.parquet"

    def has(self, number: int) -> bool:
        """Tell whether a block is done."""
        done = self._path(number).is_file()
        return done and (not self.survivors or self.survivors_path(number).is_file())

    def put(self, number: int, tally: Tally) -> None:
        """Keep the tally of a block."""
        write_whole(self._path(number), json.dumps(tally.data()) + "\n")

    def get(self, number: int) -> Tally:
        """Return the tally of a block."""
        return Tally.from_data(read_json(self._path(number), "the tally of a block"))


class _Clock:
    """Share done, rate and time left, on one line."""

    def __init__(self, space: Space, before: int, wanted: bool | None):
        self.space, self.before, self.wanted = space, before, wanted
        self.begin = self.last = time.monotonic()
        self.done, self.shown = 0, False

    def tick(self) -> None:
        """Count a block, and say so once a second."""
        self.done += 1
        now = time.monotonic()
        quick = now - self.begin < 2.0 if self.wanted is None else not self.wanted
        if quick or now - self.last < 1.0:
            return
        self.last, self.shown = now, True
        whole = self.before + self.done
        rate = self.done * self.space.block / (now - self.begin)
        left = (self.space.blocks - whole) * self.space.block / rate
        text = (
            f"\r{100 * whole / self.space.blocks:5.1f} % · {rate / 1e6:.1f} million a second · "
            f"{_span(left)} left "
        )
        print(text, end="", file=sys.stderr, flush=True)

    def end(self) -> None:
        """Leave the line."""
        if self.shown:
            print(file=sys.stderr)


def _span(seconds: float) -> str:
    if seconds < 90:
        return f"{seconds:.0f} s"
    return f"{seconds / 60:.0f} min" if seconds < 5400 else f"{seconds / 3600:.1f} h"


def survivors_of(folder: str | os.PathLike[str]) -> pd.DataFrame:
    """Return the compositions that a screening kept in its folder, a row each.

    Parameters
    ----------
    folder : path
        As it was given to `screen` with `survivors=True`.

    Returns
    -------
    DataFrame
        `number` (its place in the space) and the content of each element, wt%.

    Raises
    ------
    InputError
        A folder without survivors.

    Examples
    --------
    >>> import tempfile
    >>> brief = Brief({"Cr": (0, 30)}, {"Cr": (18, None)}, minimise={"Cr": 1.0})
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     found = screen({"Cr": [17, 18, 19]}, brief, folder=folder, survivors=True)
    ...     print(survivors_of(folder)["Cr"].tolist())
    [18.0, 19.0]
    """
    import pyarrow.parquet as pq

    files = sorted(Path(folder).glob("survivors-*.parquet"))
    if not files:
        raise InputError("folder", "one that holds survivors", str(folder))
    return pd.concat([pq.read_table(f).to_pandas() for f in files], ignore_index=True)
