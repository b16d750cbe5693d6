"""How long working backwards takes, as ratios measured in one run.

    python tests/bench/design_speed.py

Compared with the linear programmes themselves, handed to HiGHS with every array ready. Nothing
here is asserted.
"""

from __future__ import annotations

import time
from pathlib import Path

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, linprog, milp

import gradekit as gk
from gradekit.design.brief import Brief
from gradekit.design.problem import build

DATA = Path(__file__).resolve().parent.parent.parent / "data"
ELEMENTS = "C Si Mn P S Cr Ni Mo N Cu Nb Ti Al V Co B".split()
MIDDLE = "0.05 .5 6 .03 .004 17.5 4 .4 .2 1 .02 .02 .01 .08 .1 .001".split()
LINEAR = {
    "pren_16n": (18, None), "pren_30n": (20, None), "pren_mn_rondelli_1995": (12, None),
    "md30_angel_1954": (-120, 60), "md30_gladman_1974": (-150, 90), "md30_sjoberg_1973": (-250, 90),
    "cr_eq_hammar_1979": (15, 22), "ni_eq_hammar_1979": (8, 20), "cr_ni_ratio_hammar": (1.0, 2.0),
    "cr_eq_schaeffler_1949": (None, 21), "ni_eq_schaeffler_1949": (10, None), "Ni": (None, 4.6),
    "C + N": (None, 0.3), "Mn": (2, 9), "cr_ni_ratio_schaeffler": (None, 2.2),
    "liquidus_roeser_1951": (1380, None), "alloy_cost": (None, 2500), "co2_footprint": (None, 6),
}  # fmt: skip
WORKS = dict(
    bounds={"C": (0.02, 0.08), "Si": (0.2, 1.0), "Mo": (0.05, 0.6), "Cu": (0.2, 2.5), "P": 0.03,
            "S": 0.002, "Ni": (0, 4.5)},
    limits={"pren_16n": (19, None), "md30_nohara_1977": (None, 20), "ferrite_wrc_1992": (1, 16),
            "pn2_needed_sieverts": (None, 0.9)},
    within="1.4376",
    conditions={"grain_size_astm": 7, "temperature_C": 1500.0},
    family="",
)  # fmt: skip


def linear_brief() -> dict:
    """16 elements, 25 ends of limits, all of them linear."""
    bounds = {e: (0.4 * float(m), 1.8 * float(m)) for e, m in zip(ELEMENTS, MIDDLE, strict=True)}
    return dict(bounds=bounds, limits=LINEAR, stay_in_range=False)


def seconds(*calls, rounds: int = 200) -> list[float]:
    """Median processor time of each call, taken in turn: a busy machine troubles it little."""
    for call in calls:
        call()
    times = np.empty((rounds, len(calls)))
    for row in times:
        for k, call in enumerate(calls):
            start = time.process_time()
            call()
            row[k] = time.process_time() - start
    return np.median(times, axis=0).tolist()


def main() -> None:
    prices = gk.read_prices(DATA / "element_prices.csv")
    scatter = gk.heats.read_scatter(DATA / "plant.csv")
    brief = Brief(**linear_brief())
    ends = sum(v is not None for span in LINEAR.values() for v in span)

    problem = build(brief, prices)
    rows, caps = problem.straight()
    cost, _ = problem.aim_row
    single = (rows != 0).sum(axis=1) == 1
    low = np.array([brief.bounds[e][0] for e in brief.variables])
    high = np.array([brief.bounds[e][1] for e in brief.variables])
    general, limit = rows[~single], caps[~single]
    box = np.column_stack([low, high])

    def bare():
        return milp(
            cost, bounds=Bounds(low, high), constraints=LinearConstraint(general, -np.inf, limit)
        )

    def bare_linprog():
        return linprog(cost, A_ub=general, b_ub=limit, bounds=box, method="highs")

    ours = gk.design_grade(brief, prices, confidence=None)
    print(f"linear brief: {len(brief.variables)} elements, {ends} ends of limits, {ours.route}")
    t_milp, t_linprog, t_ours, t_whole = seconds(
        bare,
        bare_linprog,
        lambda: gk.design_grade(brief, prices, confidence=None),
        lambda: gk.design_grade(Brief(**linear_brief()), prices, confidence=None),
    )
    print(f"  HiGHS by milp {t_milp * 1e3:.2f} ms, by linprog {t_linprog * 1e3:.2f} ms")
    print(f"  design_grade {t_ours * 1e3:.2f} ms: {t_ours / t_milp:.1f} x milp, "
          f"{t_ours / t_linprog:.1f} x linprog")  # fmt: skip
    print(f"  with the brief checked anew {t_whole * 1e3:.2f} ms: {t_whole / t_milp:.1f} x milp")

    def whole():
        found = gk.design_grade(Brief(**WORKS), prices, scatter, window_sd=0)
        return found.window, found.certainty, found.limits

    found = gk.design_grade(Brief(**WORKS), prices, scatter, window_sd=0)
    print(f"\nthe works' brief: {len(found.problem.constraints)} constraints, {found.route}")
    t_found, t_all = seconds(
        lambda: gk.design_grade(Brief(**WORKS), prices, scatter, window_sd=0), whole, rounds=9
    )
    print(f"  aim {t_found * 1e3:.0f} ms; with window, limits and 20,000 virtual heats "
          f"{t_all * 1e3:.0f} ms")  # fmt: skip
    (t_curve,) = seconds(lambda: found.front("co2", 50), rounds=3)
    print(f"  its front of 50 points {t_curve * 1e3:.0f} ms")

    tight = WORKS | {"limits": WORKS["limits"] | {"ferrite_wrc_1992": (1, 3)}}
    t_why, t_tight = seconds(
        lambda: gk.design_grade(Brief(**tight), prices, scatter, window_sd=0).conflict,
        lambda: gk.design_grade(Brief(**tight), prices, scatter, window_sd=0).feasible,
        rounds=9,
    )
    print(f"\ncurved limits that cannot be kept, explained {t_why * 1e3:.0f} ms: "
          f"{t_why / t_tight:.1f} x finding none")  # fmt: skip

    def fifty():
        for _ in range(50):
            bare()

    t_fifty, t_front = seconds(fifty, lambda: ours.front("co2", 50), rounds=15)
    print(f"\nfront of 50 points of the linear brief {t_front * 1e3:.0f} ms: "
          f"{t_front / t_fifty:.1f} x fifty bare solves")  # fmt: skip

    from gradekit.app.panels.brief import brief_explorer

    panel = brief_explorer(Brief(**WORKS), prices, scatter, relation_error=False)
    bound = iter(range(10_000))

    def step():
        panel.limits.enter("md30_nohara_1977 ≤", str(20 - next(bound) % 30))

    (t_step,) = seconds(step, rounds=30)
    print(f"\nthe explorer of the works' brief, kernel time a step {t_step * 1e3:.0f} ms")


if __name__ == "__main__":
    main()
