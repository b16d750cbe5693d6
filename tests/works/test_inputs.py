"""What a works names once: read, completed, and refused in words."""

import pytest

import gradekit as gk

HEATS = "heat;Güte;Cr;Ni\n1;A 1.4301;18,1;8,1\n2;B 1.4016;16,2;0,2\n3;B 1.4016;16,4;0,3\n"


@pytest.fixture
def folder(tmp_path):
    (tmp_path / "heats.csv").write_text(HEATS, "utf-8")

    def named(text: str, **instead):
        (tmp_path / "works.toml").write_text(text, "utf-8")
        return gk.works.inputs(tmp_path / "works.toml", **instead)

    return named


@pytest.mark.parametrize("works", ["data", "tests/other_works"])
def test_both_works_name_what_every_notebook_needs(root, works):
    own = gk.works.inputs(root / works / "works.toml")
    own.need("tests", "plant", "prices", "materials", "recoveries", "questions", "certificate")
    heats = gk.read_heats(own.heats)
    present = gk.works.present_heats(heats, own.present_grade)
    assert gk.works.middle_heat(present) in present.index
    assert gk.Brief(**own.brief).conditions["grain_size_astm"] == own.grain_size_astm
    assert gk.Brief(**own.trial_brief).held
    assert set(own.single) <= set(own.brief["limits"])
    assert "invented" in own.name or "erfunden" in own.name


def test_without_a_brief_the_leanest_of_the_present_grade_is_asked_for(folder):
    own = folder('heats = "heats.csv"\npresent_grade = "304"\n')
    brief = gk.Brief(**own.brief)
    assert brief.within == "304" and brief.minimise == "nickel"
    assert own.prices is None and own.trials == {} and own.grain_size_astm == 8
    with pytest.raises(gk.InputError, match=r"brief · must be named"):
        folder('heats = "heats.csv"\n').need("brief")


def test_spans_are_read_from_lists_and_from_ends(folder):
    own = folder(
        "[brief]\nminimise = {Ni = 1.0}\n[brief.bounds]\nNi = [1, 4]\nCr = 18\n"
        "[brief.limits]\npren_16n = {min = 19}\nMn = {max = 8}\n"
    )
    assert own.brief["bounds"] == {"Ni": (1, 4), "Cr": 18}
    assert own.brief["limits"] == {"pren_16n": (19, None), "Mn": (None, 8)}
    assert own.brief["minimise"] == {"Ni": 1.0}


@pytest.mark.parametrize(
    "text, words",
    [
        ('heat = "heats.csv"', "nearest heats"),
        ('heats = "heat.csv"', "nearest heats.csv"),
        ("heats = 3", "the name of a file"),
        ('present_grade = "1.9999"', "a grade that a standard names"),
        ('grain_size_astm = "eight"', "a number"),
        ("grain_size_astm = true", "a number"),
        ('brief = "none"', "a table of settings"),
        ("name = 3", "a text"),
        ("heats = ", "TOML"),
        ("grain_size_astm = 70", "between -3 and 20"),
        ("delta_ferrite_pct = -1", "between 0 and 100"),
        ('heats = "C:\\data\\heats.csv"', "a path with / in the place of"),
    ],
)
def test_what_cannot_be_is_refused_in_words(folder, text, words):
    with pytest.raises(gk.InputError, match=words):
        folder(text + "\n")


def test_the_present_steel_is_the_practice_that_claims_the_grade(folder, tmp_path):
    folder("")
    heats = gk.read_heats(tmp_path / "heats.csv")
    assert list(gk.works.present_heats(heats, "304").index) == ["1"]
    assert list(gk.works.present_heats(heats).index) == ["2", "3"]
    # nobody claims it: the largest practice
    assert list(gk.works.present_heats(heats, "1.4462").index) == ["2", "3"]


def test_bounds_and_blanks_do_not_make_the_middle():
    heats = [
        {"heat": "A", "Cr": 18.1, "Ni": 8.0, "Ti": "<0.005"},
        {"heat": "B", "Cr": 18.2, "Ni": 8.1, "Ti": "<0.005"},
        {"heat": "C", "Cr": 18.9, "Ni": 8.9, "Ti": 0.3},
        {"heat": "D", "Cr": 18.2, "Ni": None, "Ti": None},
    ]
    assert gk.works.middle_heat(heats) == "B"
    assert gk.works.middle_heat(heats[3:]) == "D"
