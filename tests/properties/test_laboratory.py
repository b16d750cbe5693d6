"""A works' own table of tests under the names used here."""

import pytest

import gradekit as gk


def test_german_headers_commas_and_ppm(root):
    own = gk.works.inputs(root / "tests" / "other_works" / "works.toml")
    tests = gk.properties.lab_tests(own.tests, own.test_columns)
    heats = gk.read_heats(own.heats)
    assert {"heat", "grade", "proof_strength_MPa", "grain_size_um"} <= set(tests)
    assert set(tests["heat"]) == set(heats.index)
    first = tests.drop_duplicates("heat").set_index("heat")
    assert (first["N"] - heats["N"].reindex(first.index)).abs().max() < 1e-9  # both read from ppm
    assert tests["proof_strength_MPa"].between(250, 700).all()
    assert tests["A5 %"].dtype == float and tests["Bemerkung"].eq("erfunden").all()


def test_what_is_no_number_or_not_there_is_refused():
    table = "Schmelze;Rp0,2;Cr\nA;dreihundert;18\n"
    with pytest.raises(gk.InputError):
        gk.properties.lab_tests(table, {"proof_strength_MPa": "Rp0,2"})


@pytest.mark.parametrize(
    "columns, words",
    [
        ({"heat": 3}, "headers by name"),
        ({"proof_strength_MPa": "Rm"}, "Rm"),
        ({"heat": "Smelt", "proof_strength_MPa": "Rp0,2 MPa"}, "test_columns, heat.*got 'Smelt'"),
    ],
)
def test_columns_are_headers_of_the_table(tmp_path, columns, words):
    path = tmp_path / "t.csv"
    path.write_text("Schmelze;Rp0,2 MPa;Cr\nA;312;18\n")
    with pytest.raises(gk.InputError, match=words):
        gk.properties.lab_tests(path, columns)
