"""What contents cost in the making: by hand, convex, from the balances of the route."""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

import gradekit as gk
from gradekit.core.programme import BrokenLine, marginals, minimise
from gradekit.works.melt.blow import blow
from gradekit.works.melt.making import making_costs
from gradekit.works.melt.price_book import as_price_book
from gradekit.works.plant import as_plant, typical_plant

DATA = Path(__file__).resolve().parents[2] / "data"
STEEL = {"C": 0.04, "Si": 0.4, "Mn": 1.3, "Cr": 18.2, "Ni": 8.1, "N": 0.05}
FERRITIC = {"C": 0.04, "Si": 0.3, "Mn": 0.4, "Cr": 16.5, "N": 0.02}
LEAN = {"C": 0.06, "Mn": 7.5, "Cr": 17.5, "Ni": 4.0, "N": 0.22}


@pytest.fixture(scope="module")
def book():
    return as_price_book(DATA / "prices.csv")


@pytest.fixture(scope="module")
def metals():
    return gk.read_prices(DATA / "element_prices.csv").table["price"].to_dict()


def of(costs, what):
    (found,) = [c.line for c in costs if c.what == what]
    return found


@pytest.mark.parametrize("steel", [STEEL, FERRITIC, LEAN])
def test_every_cost_is_convex_and_never_below_nothing(steel, book, metals):
    costs, unknown = making_costs(steel, typical_plant(), book, metals, 0.875)
    assert {c.element for c in costs} == {"C", "N", "S"} and not unknown
    grid = np.geomspace(1e-4, 1.0, 2000)
    for cost in costs:
        assert (np.diff(cost.line.slopes) > 0).all(), cost.what
        assert (cost.line.value(grid) > -1e-9).all(), cost.what
        assert np.isfinite(cost.line.value(grid)).all(), cost.what


def test_the_last_gas_costs_what_it_blows(book):
    """From 0.035 to 0.015 % C with one part of oxygen to nine of nitrogen, a share of 0.225 of the
    oxygen on carbon: by hand, with the prices of the book."""
    costs, _ = making_costs(STEEL, as_plant(DATA / "plant.csv"), book)
    carbon = 0.2  # kg a tonne
    oxygen = carbon * 22.414 / 2 / 12.011 / 0.225
    nitrogen = oxygen / 0.1111
    by_hand = oxygen * 32.0 / 22.414 * 0.120 + nitrogen * 28.014 / 22.414 * 0.400
    gas = of(costs, "gas of the blow")
    assert gas.value(0.015) - gas.value(0.035) == pytest.approx(by_hand, rel=0.03)
    chromium = oxygen * (1 - 0.225) * 2 / 22.414 * 51.996 / 1.5
    need = blow({"C": carbon, "Cr": chromium}, reductant_use=0.875)
    by_hand = need.ferrosilicon_reduction * 1.350 + need.lime * 0.150
    reduction = of(costs, "reduction")
    assert reduction.value(0.015) - reduction.value(0.035) == pytest.approx(by_hand, rel=0.03)


def test_where_carbon_is_low_chromium_burns_by_the_balance(book):
    """Below what the trade blows down to the equilibrium rules: half the carbon, dearer carbon."""
    costs, _ = making_costs(STEEL, as_plant(DATA / "plant.csv"), book)
    gas = of(costs, "gas of the blow")
    slope = lambda low, high: (gas.value(low) - gas.value(high)) / (high - low)  # noqa: E731
    assert slope(0.003, 0.005) > 1.3 * slope(0.02, 0.03) > 0


def test_low_nitrogen_costs_argon_and_high_nitrogen_an_alloy(book, metals):
    plant = as_plant(DATA / "plant.csv")
    costs, _ = making_costs(STEEL, plant, book, metals, 0.875)
    low, high = of(costs, "argon against nitrogen"), of(costs, "nitrided alloy")
    free = 0.5 * (0.002 + 0.004) + 0.035  # what the furnace hands over and the air gives
    assert low.value(free) == pytest.approx(0.0, abs=1e-9)
    assert low.value(0.010) > low.value(0.020) + 5 > low.value(0.030) + 5
    gas = gk.evaluate(STEEL, "n_solubility_recommended", temperature_C=1630, pN2_atm=1.0)
    reach = gas.values.iloc[0, 0]
    # at 62 % Cr and 5 % N, 4100 a contained tonne of Cr
    worth = 0.62 * 2400 + 0.01 * 1800 + 0.003 * 1500
    iron = 1 - 0.62 - 0.05 - 0.01 - 0.003 - 0.0006 - 0.00025 - 0.0001
    a_kg = (0.62 * 4100 - worth - iron * 420) / 0.05 / 1000
    assert high.value(reach) == pytest.approx(0.0, abs=1e-9)
    assert high.value(reach + 0.1) == pytest.approx(a_kg / 0.875, rel=0.02)
    # manganese holds nitrogen, nickel drives it out
    lean, _ = making_costs(LEAN, plant, book, metals, 0.875)
    assert of(lean, "nitrided alloy").value(0.28) < high.value(0.28)


def test_sulphur_costs_slag_only_beyond_what_reduction_makes(book):
    costs, _ = making_costs(STEEL, typical_plant(), book)
    slag = of(costs, "slag against sulphur")
    assert slag.value(0.005) == pytest.approx(0.0, abs=1e-9)
    assert slag.value(0.0005) > slag.value(0.001) > 0


def test_what_is_missing_is_named_and_not_counted(book):
    costs, unknown = making_costs(STEEL, as_plant(None), book)
    assert not costs and "bath_carbon_start" in " ".join(unknown)
    table = pd.read_csv(DATA / "prices.csv", comment="#")
    bare = as_price_book(table[~table["material"].isin(["argon", "fesi75"])])
    _, unknown = making_costs(STEEL, typical_plant(), bare)
    assert "no argon" in " ".join(unknown) and "no ferrosilicon" in " ".join(unknown)


def test_broken_lines_of_a_linear_programme_and_its_prices():
    line = BrokenLine.through([0.0, 1.0, 3.0], [4.0, 1.0, 0.0])
    free = minimise(np.array([0.6]), np.zeros((0, 1)), np.zeros(0), np.zeros(1), np.full(1, 9.0),
                    [(0, line)])  # fmt: skip
    assert free.x[0] == pytest.approx(1.0) and free.value == pytest.approx(1.6)
    rows, ends = np.array([[-1.0]]), np.array([-2.0])
    held = minimise(np.array([0.6]), rows, ends, np.zeros(1), np.full(1, 9.0), [(0, line)])
    price, residual = marginals(np.array([0.6]), rows, ends - rows @ held.x, np.zeros(1),
                                np.full(1, 9.0), held.x, [(0, line)])  # fmt: skip
    assert held.x[0] == pytest.approx(2.0) and residual < 1e-9
    assert price[0] == pytest.approx(0.6 - 0.5)  # metal dearer, making cheaper
    value, slope = line.smooth(2.0)
    assert value == pytest.approx(0.5, abs=1e-3) and slope == pytest.approx(-0.5, abs=1e-3)
    assert line.piece(1.0) == (1.0, 1.0) and line.piece(2.0) == (1.0, np.inf)
