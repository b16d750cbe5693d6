"""The border: what a cell says, what becomes a batch, and how the rest is refused."""

from __future__ import annotations

import io

import numpy as np
import pandas as pd
import pytest
from reading_kit import read

import gradekit as gk
from gradekit.heats.certificates.cells import claims, parse_cell
from gradekit.heats.certificates.headers import column_element
from gradekit.heats.certificates.units import unit_factor
from gradekit.heats.notes import bounded, bounds, printed_limits

pytestmark = pytest.mark.usefixtures("nothing_printed_nothing_warned")


# --- cells ----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("cell", "factor", "value", "mark"),
    [
        ("18,12", 1, 18.12, ""),
        (" 18.12 % ", 1, 18.12, ""),
        ("<0,005", 1, 0.005, "<0.005"),
        ("≤ 0.010", 1, 0.010, "<0.010"),
        ("LT 0.01", 1, 0.01, "<0.01"),
        ("max. 0,03", 1, 0.03, "<0.03"),
        ("0.00", 1, 0.01, "<0.01"),
        ("0,000", 1, 0.001, "<0.001"),
        ("0", 1, 0.0, ""),
        ("0", 1e-3, 0.001, "<0.001"),
        ("24", 1e-3, 0.024, ""),
        ("<5", 1e-4, 0.0005, "<0.0005"),
        ("548", 1e-4, 0.0548, ""),
        ("'-", 1, np.nan, "-"),
        ("N.D.", 1, np.nan, "N.D."),
        ("tr", 1, np.nan, "tr"),
        ("", 1, np.nan, ""),
        ("n/a", 1, np.nan, ""),
        (None, 1, np.nan, ""),
        (pd.NA, 1, np.nan, ""),
        (np.float32(0.5), 1, 0.5, ""),
    ],
)
def test_a_cell_says(cell, factor, value, mark):
    found = parse_cell(cell, factor)
    assert found[1] == mark
    assert found[0] == value or (np.isnan(found[0]) and np.isnan(value))


@pytest.mark.parametrize(
    "cell",
    [
        *(
            "abc",
            "1.2.3",
            "1,2,3",
            "18 12",
            "12\u00a034",
            "18±0.1",
            ">5",
            "<0",
            "<-1",
            "~3",
            "(0.1)",
        ),
        *("0x1A", "1_0", "²", "٣", "--5", "%", "inf", "=9*2", "#REF!", True, [18], 1j, b"18"),
    ],
)
def test_anything_else_is_no_number(cell):
    with pytest.raises(ValueError):
        parse_cell(cell)


@pytest.mark.parametrize(
    ("header", "element", "factor"),
    [
        ("Cr", "Cr", 1),
        ("CR", "Cr", 1),
        ("CO", "Co", 1),
        ("Chromium", "Cr", 1),
        ("%Cr", "Cr", 1),
        ("Cr (wt.-%)", "Cr", 1),
        ("Cr_wt_pct", "Cr", 1),
        ("N ppm", "N", 1e-4),
        ("N[ppm]", "N", 1e-4),
        ("H2 [ppm]", "H", 1e-4),
        ("O µg/g", "O", 1e-4),
        ("C x10^-3", "C", 1e-3),
        ("C ×10⁻³", "C", 1e-3),
        ("C (x1000)", "C", 1e-3),
        ("Si 1/100", "Si", 1e-2),
        ("Cb", "Nb", 1),
        ("NB + TA", "Nb", 1),
        ("AL TOT", "Al", 1),
        ("Al sol.", "Al", 1),
        ("N ges.", "N", 1),
        ("Ntot", "N", 1),
        ("C (LECO)", "C", 1),
        ("S-CS", "S", 1),
        ("Cr_OES", "Cr", 1),
        ("w(Cr) in %", "Cr", 1),
        ("Chrom (Cr) %", "Cr", 1),
        ("O2 [gas]", "O", 1),
        ("Sulphur", "S", 1),
        ("Kväve ppm", "N", 1e-4),
        ("Molybdän Gew.-%", "Mo", 1),
        ("Węgiel", "C", 1),
        ("Silício", "Si", 1),
        ("N ppmw", "N", 1e-4),
        ("N ppm (m/m)", "N", 1e-4),
        ("Cr % (m/m)", "Cr", 1),
        ("Mn [Masse-%]", "Mn", 1),
        ("C g/kg", "C", 0.1),
        ("S ‰", "S", 0.1),
        ("C [mass fraction]", "C", 100),
    ],
)
def test_a_header_names(header, element, factor):
    assert column_element(header)[:2] == (element, factor)


@pytest.mark.parametrize(
    "header",
    [
        "grade",
        "cr",
        "Cr-equiv",
        "TI/C",
        "C+N",
        "PREN",
        "Rp0.2",
        "Xx",
        "Ni 2",
        "",
        5,
        None,
    ],
)
def test_a_header_is_no_content(header):
    assert column_element(header) is None


@pytest.mark.parametrize("text", ["10", "100", "0.01", "-", "MPa", "x10^3", "10E-3", "", None])
def test_what_is_no_unit(text):
    assert unit_factor(text) is None


def test_a_dual_line_claims_all_its_designations():
    line = "TW-201 1.4372 X12CrMnNiN17-7-5 - 201/S20100, 316Ti, 2205, to EN 10088-2 / ASME SA-240"
    assert claims(line) == [
        *("1.4372", "X12CrMnNiN17-7-5", "201", "S20100", "316Ti", "2205"),
        *("EN 10088-2", "ASME SA-240"),
    ]
    assert claims(None) == []


# --- what as_batch takes --------------------------------------------------------------------

HEATS = pd.DataFrame({"C": [0.02, 0.03], "Cr": [18.0, 17.0]}, index=pd.Index(["H1", "H2"]))


@pytest.mark.parametrize(
    "source",
    [
        HEATS,
        HEATS.astype(object),
        HEATS.astype("Float64"),
        HEATS.map(lambda x: str(x).replace(".", ",")),
        HEATS.map(str).astype("category"),
        HEATS.rename_axis("heat").reset_index(),
        HEATS.rename_axis("Heat No.").reset_index().to_dict("records"),
        HEATS.to_dict("index"),
        {"heat": ["H1", "H2"], "C": [0.02, 0.03], "Cr": [18, 17]},
        [HEATS.loc["H1"], HEATS.loc["H2"]],
        iter([{"heat": "H1", "C": 0.02, "Cr": 18}, {"heat": "H2", "C": 0.03, "Cr": 17}]),
        "heat\tC\tCr\nH1\t0,02\t18\nH2\t0,03\t17",
        io.StringIO("heat,C,Cr\nH1,0.02,18\nH2,0.03,17"),
        io.BytesIO(b"heat;C;Cr;Fe\nH1;0,02;18;bal.\nH2;0,03;17;82,97"),
    ],
)
def test_every_kind_of_source_becomes_the_same_batch(source):
    pd.testing.assert_frame_equal(gk.as_batch(source), HEATS, check_names=False, check_exact=True)


def test_a_batch_passes_without_a_copy():
    assert gk.as_batch(HEATS) is HEATS
    batch = read("heat,C,Cr,Nb\nH1,0.02,18,<0.01")
    assert gk.as_batch(batch) is batch


def test_a_row_of_a_batch_keeps_its_name_and_its_bounds():
    batch = read("heat,C,Cr,Nb\nH1,0.02,18,<0.01\nH2,0.03,17,0.2")
    one = gk.as_batch(batch.loc["H1"])
    assert one.index.tolist() == ["H1"] and gk.heats.bounds(one).at["H1", "Nb"] == "<0.01"
    two = gk.as_batch([batch.loc["H2"], batch.loc["H1"]])
    assert gk.heats.bounds(two)["Nb"].tolist() == ["", "<0.01"]


def test_a_bound_is_forgotten_when_its_number_is_changed():
    batch = read("heat,C,Cr,Nb,Ti\nH1,0.02,18,<0.01,n.d.\nH2,0.03,17,<0.01,n.d.")
    trial = batch.copy()
    trial.loc["H1", ["Nb", "Ti"]] = 0.3, 0.1
    assert gk.heats.bounds(trial)["Nb"].tolist() == ["", "<0.01"]
    assert gk.heats.bounds(trial)["Ti"].tolist() == ["", "n.d."]
    assert bounded(trial)["Nb"].tolist() == [False, True] and "Ti" not in bounded(trial)
    assert gk.heats.bounds(batch)["Nb"].tolist() == ["<0.01", "<0.01"]


def test_notes_outlive_a_detour_through_other_columns():
    batch = read("heat,grade,C,Cr,Nb\nH1,304,0.02,18,<0.01")
    again = gk.as_batch(batch.assign(note="x"))
    assert gk.heats.bounds(again).at["H1", "Nb"] == "<0.01"
    assert gk.about(again).loc["H1"].tolist() == ["304", "x"]


ONE = "heat,grade,C,Cr,Nb\nmax,,0.03,,\nH1,304,0.02,18,<0.01\nH2,304L,0.02,18,0.01"
TWO = "heat,C,Cr,Mo,Nb\nH1,0.03,17,n.d.,0.01\nH3,0.03,17,<0.2,<0.005"


def test_batches_joined_keep_the_notes_of_each():
    one, two = read(ONE), gk.as_batch(read(TWO).assign(lab="B"))
    whole = gk.as_batch([one, two])
    assert whole.index.tolist() == ["H1", "H2", "H1 (2)", "H3"]
    assert whole.columns.tolist() == ["C", "Cr", "Nb", "Mo"]
    assert whole["Mo"].isna().tolist() == [True, True, True, False]
    assert gk.heats.bounds(whole)["Nb"].tolist() == ["<0.01", "", "", "<0.005"]
    assert gk.heats.bounds(whole)["Mo"].tolist() == ["", "", "n.d.", "<0.2"]
    assert gk.about(whole)["grade"].tolist()[:2] == ["304", "304L"]
    assert gk.about(whole)["lab"].tolist()[2:] == ["B", "B"]
    again, limits = gk.messages(whole)
    assert "heat 'H1' stands there again: called 'H1 (2)'" in again and "limits" in limits
    assert printed_limits(whole).empty and printed_limits(one).at["max", "C"] == 0.03
    flags = gk.evaluate(whole, "pren_16n").flags["pren_16n"]
    assert [bool(f & gk.Flag.BOUND) for f in flags] == [False, False, False, True]


def test_a_part_of_a_batch_joins_without_the_heats_left_out():
    one = read(ONE)
    whole = gk.as_batch([one.loc[["H2"]], {"heat": "H1", "Cr": 18, "Nb": 0.01}])
    assert gk.heats.bounds(whole)["Nb"].tolist() == ["", ""]


def test_rows_of_two_batches_bring_the_notes_of_both():
    two = gk.as_batch([read(ONE).loc["H1"], read(TWO).loc["H3"]])
    assert gk.heats.bounds(two)["Nb"].tolist() == ["<0.01", "<0.005"]


def test_limits_that_all_certificates_print_stay():
    text = "heat,C,Cr\nmax,0.03,19\n{},0.02,18"
    whole = gk.as_batch([read(text.format("H1")), read(text.format("H2"))])
    assert printed_limits(whole).at["max", "Cr"] == 19 and gk.messages(whole) == []


def test_pandas_joins_numbers_alone_and_the_loss_is_said():
    one, two = read(ONE), read(TWO)
    with pytest.warns(UserWarning, match=r"as_batch\(\[one, two\]\) keeps them"):
        bare = pd.concat([one, two.loc[["H3"]]])
    assert gk.as_batch(bare) is bare and bounded(bare) == {}
    pd.concat([one.loc[["H1"]], one.loc[["H2"]]])
    pd.concat([gk.as_batch({"Cr": 18.0}), gk.as_batch({"Cr": 17.0})])


def test_the_same_name_twice_and_no_name_are_said():
    batch = gk.as_batch(pd.DataFrame({"Cr": [18.0, 17, 16, 15]}, index=["a", "a", None, "a (2)"]))
    assert batch.index.tolist() == ["a", "a (2)", "unnamed 1", "a (2) (2)"]
    assert len(gk.messages(batch)) == 3


def test_many_equal_names_take_no_time_and_few_words():
    table = pd.DataFrame({"Cr": np.full(50_000, 18.0)}, index=["a"] * 50_000)
    batch = gk.as_batch(table)
    assert batch.index.is_unique and len(gk.messages(batch)) < 10


def test_ppm_by_size_counts_for_bounds_too():
    batch = gk.as_batch([{"Cr": 18, "N": "<50"}, {"Cr": 18, "N": 480}, {"Cr": 18, "N": 0.06}])
    assert batch["N"].tolist() == [0.005, 0.048, 0.06]
    assert gk.heats.bounds(batch)["N"].tolist() == ["<0.005", "", ""]
    assert gk.messages(batch) == ["N: 2 values of a size that only ppm can have, read as ppm"]


def test_hostile_names_stay_text():
    names = ["<b>x</b>", "=cmd|' /C calc'!A0", "+1", "@x", '"quoted", with comma']
    batch = gk.as_batch([{"heat": name, "Cr": 18.0} for name in names])
    assert batch.index.tolist() == names


@pytest.mark.parametrize(
    ("source", "words"),
    [
        ({"Cr": "abc"}, "heat 'heat 1', Cr · must be a number, a bound .* got 'abc'"),
        ({"Cr": 150}, "heat 'heat 1', Cr · must be between 0 and 100 wt% · got 150.0"),
        ({"Cr": 18, "C": -0.1}, "heat 'heat 1', C · must be between 0 and 100 wt% · got -0.1"),
        ({"Xx": 1.0, "Cr": 18}, "element · must be a chemical symbol such as Cr · got 'Xx' .*Xe"),
        ({"temperature": 20, "Cr": 18}, "got 'temperature'"),
        ({"Cr": 60, "Ni": 50}, "sum of the contents · must be at most 100 wt% · got 110.00 wt%"),
        ({"Cr": np.nan}, "at least one content reported"),
        ({"Cr": True}, "got True"),
        ({"Cr": np.inf}, "got inf"),
        ({}, "element symbols such as C, Cr, Ni · got nothing"),
        ([], "at least one heat · got nothing"),
        ([1], "a dict of element to wt% · got 1"),
        (5, "a dict, Series, list of dicts, DataFrame or path · got 5"),
        (None, "got None"),
        (np.ones((2, 2)), "an array without names"),
        ({"Cr": [18, 17], "C": [1]}, "columns of one length"),
        (pd.DataFrame(), "at least one heat"),
        (pd.DataFrame({"Cr": []}), "at least one heat"),
        (pd.DataFrame([[1.0, 2.0]]), "element symbols"),
        (pd.DataFrame([[1.0, 2.0]], columns=["Cr", "Cr"]), "column of Cr · must be there once"),
        (pd.DataFrame({"Cr": [18.0], "Xx": [1.0]}), "got 'Xx'"),
        (pd.DataFrame({"Cr": [pd.Timestamp(2024, 12, 18)]}), "made a date of the number"),
        (pd.Series([18.0], index=[0]), "index of the Series"),
        (pd.Series([18.0, 17.0], index=["Cr", "Cr"]), "each element once"),
        (HEATS["Cr"], r"for a column, heats\[\['Cr'\]\]"),
    ],
)
def test_structure_that_is_wrong_is_refused_once(source, words):
    with pytest.raises(gk.InputError, match=words):
        gk.as_batch(source)


def test_per_cent_in_a_column_of_ppm_is_said():
    heats = gk.read_heats(b"Heat;Cr;N ppm\nH1;18,1;480\nH2;17,2;0,17")
    assert any("N: 1 value lies below 1 ppm" in m for m in gk.messages(heats))
    assert heats.loc["H2", "N"] == pytest.approx(0.17e-4)


@pytest.mark.parametrize(("typed", "meant"), [("chromiun", "Cr"), ("moly", "Mo"), ("Nickle", "Ni")])
def test_a_misspelt_word_is_answered_with_its_element(typed, meant):
    with pytest.raises(gk.InputError) as refused:
        gk.as_batch({typed: 1.0})
    assert refused.value.nearest == meant


def test_names_that_no_table_can_hold_are_made_fit_or_refused():
    assert gk.heats.read_heats_text("heat;Cr;n\ud800\nH\ud800;18;\udfff").shape == (1, 1)
    assert gk.read_heats(b'[{"heat": "\\ud800", "Cr": 18, "\\ud800": 1}]').shape == (1, 1)
    for names in (dict(index=NAMES), dict(columns=NAMES)):
        with pytest.raises(gk.InputError, match="MultiIndex"):
            gk.as_batch(pd.DataFrame([[18.0]], **names))
    assert gk.as_batch({"heat": True, "Cr": 18}).index.tolist() == ["True"]


NAMES = pd.MultiIndex.from_tuples([("a", "Cr")])


def test_a_bound_of_a_size_that_only_ppm_can_have_keeps_its_mark():
    table = pd.DataFrame({"N": ["<18.876", "12.5"], "Cr": ["18.1", "18.2"]}, index=["A", "B"])
    heats = gk.as_batch(table)
    assert bounds(heats).at["A", "N"] == "<0.0018876" and heats.at["B", "N"] == 0.00125
