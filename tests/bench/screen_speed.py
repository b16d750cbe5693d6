"""How long a screening takes beside the bare product and comparisons of the same chunks."""

import sys
import time

import numpy as np

import gradekit as gk
from gradekit.design.screen.run import screen

ELEMENTS = ("C", "Si", "Mn", "Cr", "Ni", "Mo", "N", "Cu", "Nb")
LIMITS = {  # four linear and two nonlinear
    "pren_16n": (19, None), "md30_angel_1954": (None, 20), "Ni": (None, 4.5), "Cr": (16, None),
    "ferrite_wrc_1992": (3, None), "ferrite_schaeffler_1949": (None, 10),
}  # fmt: skip
STEPS = {
    6: dict(C=2, Si=2, Mn=8, Cr=12, Ni=12, Mo=4, N=6, Cu=9, Nb=1),
    7: dict(C=3, Si=3, Mn=10, Cr=20, Ni=20, Mo=5, N=6, Cu=9, Nb=1),
    8: dict(C=4, Si=4, Mn=19, Cr=32, Ni=30, Mo=6, N=8, Cu=7, Nb=1),
    9: dict(C=5, Si=4, Mn=30, Cr=41, Ni=40, Mo=7, N=14, Cu=10, Nb=1),
}
RANGES = dict(C=(0.01, 0.1), Si=(0.2, 0.8), Mn=(1, 10), Cr=(15, 21), Ni=(1, 7), Mo=(0, 1.5),
              N=(0.05, 0.3), Cu=(0, 3), Nb=(0, 0))  # fmt: skip


def bare(count: int) -> float:
    rng = np.random.default_rng(0)
    x, w, ends = rng.random((32_768, len(ELEMENTS))), rng.random((len(ELEMENTS), 6)), rng.random(6)
    begin = time.perf_counter()
    for _ in range(count // len(x)):
        ((x @ w) > ends).sum(axis=0)
    return time.perf_counter() - begin


def main(largest: int) -> None:
    brief = gk.Brief(
        dict.fromkeys(ELEMENTS, (0, 100)), LIMITS, stay_in_range=False,
        minimise={"Ni": 16.0, "Cr": 2.0, "Mn": 1.5, "Mo": 30.0, "Cu": 8.0},
    )  # fmt: skip
    for power in range(6, largest + 1):
        space = {e: np.linspace(*RANGES[e], n).round(6).tolist() for e, n in STEPS[power].items()}
        begin = time.perf_counter()
        result = screen(space, brief)
        took = time.perf_counter() - begin
        sample = min(result.evaluated, 30_000_000)
        beside = bare(sample) * result.evaluated / sample
        print(
            f"{result.evaluated:14,} compositions  {took:8.2f} s  "
            f"{result.evaluated / took / 1e6:6.1f} million a second  "
            f"{took / beside:5.2f} x the bare product and comparisons"
        )


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 7)
