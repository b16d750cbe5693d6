"""Tables larger than memory: the same answers, part by part."""

import numpy as np
import pandas as pd
import pytest

import gradekit as gk

dd = pytest.importorskip("dask.dataframe")


def heats(count=3000) -> pd.DataFrame:
    rng = np.random.default_rng(0)
    spread = dict(C=(0.04, 0.008), Si=(0.4, 0.05), Mn=(1.4, 0.1), Cr=(18.2, 0.2), Ni=(8.1, 0.1),
                  Mo=(0.2, 0.05), N=(0.05, 0.007), P=(0.03, 0.003), S=(0.002, 0.0005))  # fmt: skip
    table = pd.DataFrame({e: rng.normal(m, s, count).clip(0) for e, (m, s) in spread.items()})
    return table.round(4).set_axis([f"H{k}" for k in range(count)])


@pytest.fixture
def lazy():
    return dd.from_pandas(heats(), npartitions=4, sort=False)


def test_values_and_flags_are_those_of_the_whole_table(lazy):
    names = ["pren_16n", "md30_nohara_1977", "ferrite_wrc_1992"]
    later = gk.evaluate(lazy, names, grain_size_astm=8)
    assert hasattr(later, "compute")
    found = later.compute()
    whole = gk.evaluate(heats(), names, grain_size_astm=8)
    pd.testing.assert_frame_equal(
        found[names], whole.values, check_names=False, check_index_type=False
    )
    for name in names:
        assert (found[f"{name} flags"] == whole.flags[name]).all()


def test_heats_are_checked_and_named_by_family_part_by_part(lazy):
    checked = gk.check_grade(lazy, "1.4301").compute()
    whole = pd.DataFrame(gk.check_grade(heats(), "1.4301"))
    columns = ["heat", "element", "standard", "verdict", "margin"]
    a, b = (t[columns].sort_values(columns[:3]).reset_index(drop=True) for t in (checked, whole))
    pd.testing.assert_frame_equal(a, b, check_dtype=False)
    kinds = gk.family(lazy).compute()
    assert (kinds["family"].to_numpy() == gk.family(heats())["family"].to_numpy()).all()


def test_a_parquet_data_set_is_read_lazily(tmp_path, lazy):
    folder = tmp_path / "history"
    lazy.to_parquet(folder)
    values = gk.evaluate(folder, "pren_16n").compute()["pren_16n"]
    expected = gk.evaluate(heats(), "pren_16n").values["pren_16n"]
    np.testing.assert_allclose(np.sort(values), np.sort(expected))


def test_a_path_that_is_no_data_set_goes_the_usual_way(tmp_path):
    with pytest.raises(gk.InputError):
        gk.evaluate(str(tmp_path / "none.csv"), "pren_16n")
