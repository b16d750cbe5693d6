"""Tables as strings."""

from __future__ import annotations

import pandas as pd
import pytest

from gradekit.core.markup import Column, columns_table, table

FRAME = pd.DataFrame(
    {"Cr": [18.2, float("nan")], "field": ["<FA>", "F"]}, index=pd.Index(["H1", "H&2"], name="heat")
)
COLUMNS = [
    Column("Cr", [18.2, float("nan")], unit="wt%"),
    Column("field", ["<FA>", "F"], text=True, wide=True),
]


def test_a_table_of_columns_is_that_of_a_frame():
    made = columns_table(COLUMNS, "Two heats", ["H1", "H&2"], "heat", digits=3)
    wide = (name for name in ["field"])
    assert made == table(FRAME, "Two heats", units={"Cr": "wt%"}, wide=wide, digits=3)
    assert "<FA>" not in made and "H&amp;2" in made and '<td data-h="Cr wt%">—</td>' in made
    bare = columns_table(COLUMNS, "Two heats")
    assert bare == table(FRAME, "Two heats", units={"Cr": "wt%"}, wide=["field"], index=False)
    assert 'scope="row"' not in bare


def test_rows_without_columns_keep_their_names():
    assert table(FRAME[[]], "None").count('<th scope="row">') == 2


@pytest.mark.parametrize(
    "columns, labels",
    [(COLUMNS, ["H1"]), ([COLUMNS[0], Column("short", [1.0])], ["H1", "H2"])],
)
def test_columns_of_unequal_length_are_refused(columns, labels):
    with pytest.raises(ValueError, match=r"shorter|longer"):
        columns_table(columns, "Two heats", labels)
