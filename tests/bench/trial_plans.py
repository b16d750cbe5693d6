"""Trial heats against other ways to spend the same money, over invented truths."""

import sys

import gradekit as gk
from gradekit.lessons.trial_works import compare_plans

BOUNDS = {
    "C": (0.02, 0.08), "Si": (0.3, 0.7), "Mn": (5, 9), "Cr": (16, 18.5), "Ni": (1, 5.5),
    "N": (0.05, 0.25), "Cu": (0, 2.5), "Mo": (0, 0.5), "Nb": 0.0,
}  # fmt: skip


def main(truths: int) -> None:
    brief = gk.Brief(
        BOUNDS,
        {"md30_nohara_1977": (None, 0), "pren_16n": (18.5, None), "ferrite_wrc_1992": (None, 12)},
        conditions={"grain_size_astm": 8}, family="austenitic", stay_in_range=False,
        minimise={"Ni": 16.0, "Cr": 2.0, "Mn": 1.5, "Cu": 8.0, "Mo": 30.0},
    )  # fmt: skip
    print(compare_plans(brief, truths).round(3).to_string())


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 20)
