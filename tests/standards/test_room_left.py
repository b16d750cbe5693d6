"""What a works leaves unused of its grades: against sums by hand."""

import pandas as pd
import pytest

import gradekit as gk

STEELS = [
    {"heat": "A", "grade": "own 1.4301", "Cr": 18.1, "Ni": 8.4, "N": 0.05, "C": 0.03},
    {"heat": "B", "grade": "own 1.4301", "Cr": 17.6, "Ni": 8.1, "N": 0.05, "C": 0.03},
    {"heat": "C", "grade": "own 1.4301", "Cr": 17.4, "Ni": 8.6, "N": 0.05, "C": 0.03},
]


def test_outside_in_the_guard_and_unused():
    left = gk.standards.room_left(STEELS, {"Cr": 0.06, "Ni": 0.04}, cost={"Cr": 25, "Fe": 5})
    left = left.set_index("element")
    # 1.4301: Cr 17.5 to 19.5 and Ni 8.0 to 10.5; guard 2 s and half a last digit
    assert left.loc["Cr", ["min", "internal_min"]].tolist() == pytest.approx([17.5, 17.625])
    assert left.loc["Cr", ["outside", "in_guard"]].tolist() == [1, 1]
    mean = (18.1 + 17.6 + 17.4) / 3
    assert left.loc["Cr", "unused"] == pytest.approx(mean - 17.625)
    assert left.loc["Cr", "saving"] == pytest.approx((mean - 17.625) * 20)
    assert left.loc["Ni", "unused"] == pytest.approx(25.1 / 3 - 8.085)
    assert pd.isna(left.loc["Ni", "saving"])  # no price, no money
    assert pd.isna(left.loc["C", "unused"])  # no minimum


def test_a_practice_that_claims_nothing_known_is_left_out():
    assert gk.standards.room_left([{"heat": "A", "grade": "own", "Cr": 18.0}]).empty
    assert gk.standards.room_left([{"heat": "A", "Cr": 18.0}]).empty
