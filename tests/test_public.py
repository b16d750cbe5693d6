"""The public face: what the pages promise is there, and says what it does."""

import inspect
import re
import subprocess
import sys
from pathlib import Path

import pandas as pd
import pytest

import gradekit as gk

README = Path(__file__).resolve().parent.parent / "README.md"


ROOMS = [n for n in dir(gk) if n not in gk.__all__]
#: Every public name, at the top or in its room.
PUBLIC = {n: getattr(getattr(gk, room), n) for room in ROOMS for n in dir(getattr(gk, room))}
PUBLIC |= {name: getattr(gk, name) for name in gk.__all__}


def test_the_top_is_small_and_lists_names_that_their_rooms_list():
    assert len(gk.__all__) <= 40
    for name in set(gk.__all__) - {"Flag", "InputError"}:
        homes = [room for room in ROOMS if name in dir(getattr(gk, room))]
        assert len(homes) == 1 and getattr(getattr(gk, homes[0]), name) is getattr(gk, name)


@pytest.mark.parametrize("room", ROOMS)
def test_help_of_a_room_lists_its_names_with_a_line_each(room):
    lines = inspect.getdoc(getattr(gk, room)).splitlines()
    for name in dir(getattr(gk, room)):
        (line,) = [text for text in lines if text.split()[:1] == [name]]
        assert line.endswith("."), line


def test_the_guide_names_every_public_name_that_moved():
    guide = README.with_name("DEVELOPERS.md").read_text("utf-8")
    for call in re.findall(r"`gk\.((?:\w+\.)*\w+)`", guide.partition("## Renamed")[2]):
        value = gk
        for part in call.split("."):
            value = getattr(value, part)


def test_every_call_of_the_readme_exists():
    rows = [x for x in README.read_text("utf-8").splitlines() if x.startswith("| `")]
    calls = {c for row in rows for c in re.findall(r"`([\w.]+)\(", row.split("|")[1])}
    assert len(calls) > 10
    for call in calls:
        value = gk
        for part in call.split("."):
            value = getattr(value, part)
        assert callable(value)


@pytest.mark.parametrize("name", PUBLIC)
def test_every_public_name_is_documented(name):
    assert not inspect.ismodule(PUBLIC[name])
    assert inspect.getdoc(PUBLIC[name]), name


def test_public_functions_have_type_hints():
    for name, value in PUBLIC.items():
        function = inspect.unwrap(value)
        if inspect.isfunction(function):
            signature = inspect.signature(function)
            assert signature.return_annotation is not inspect.Signature.empty, name
            for parameter in signature.parameters.values():
                assert parameter.annotation is not inspect.Parameter.empty, (name, parameter)


FUNCTIONS = {
    name: function
    for name, value in PUBLIC.items()
    if inspect.isfunction(function := inspect.unwrap(value))
}


def sections(name: str) -> set[str]:
    return set(re.findall(r"^(\w+)\n-+$", inspect.getdoc(FUNCTIONS[name]), re.M))


@pytest.mark.parametrize("name", FUNCTIONS)
def test_every_public_function_says_what_goes_in_what_comes_out_and_shows_it(name):
    found = sections(name)
    assert "Returns" in found
    assert ("Parameters" in found) == bool(inspect.signature(FUNCTIONS[name]).parameters)
    assert "Examples" in found and ">>>" in inspect.getdoc(FUNCTIONS[name])


STEEL = {"C": 0.05, "Si": 0.4, "Mn": 1.4, "Cr": 18.2, "Ni": 8.1, "N": 0.05}
TWO = pd.DataFrame([STEEL, STEEL], index=["a", "b"])
PLANT = README.parent / "data" / "plant.csv"
#: A call of every public function that it must refuse in words, as its section Raises says.
REFUSED = {
    "about": lambda f: f(3),
    "aod_path": lambda f: f(3),
    "as_batch": lambda f: f({"Xx": 1.0}),
    "assess_route": lambda f: f(STEEL, coast=3),
    "bounds": lambda f: f(3),
    "brief_explorer": lambda f: f(3),
    "buttering": lambda f: f(STEEL, STEEL, layers=0),
    "family": lambda f: f(STEEL, family="austenitik"),
    "bars": lambda f: f(pd.Series({"Cr": 0.0})),
    "intervals": lambda f: f(gk.evaluate(STEEL, ["pren_16n", "md30_angel_1954"])),
    "lines": lambda f: f([0, 1], {"PREN": [18]}, xlabel="N, wt%", ylabel="PREN"),
    "scatter_fit": lambda f: f([280, 300], [290]),
    "learnt": lambda f: f(gk.Brief({"Cr": (17, 19)}, minimise={"Cr": 1}), TWO, {"x": "y"}),
    "calibrate": lambda f: f("md30_nohara_1977", TWO, "Md30_C"),
    "casting_temperatures": lambda f: f("x"),
    "catalogue": lambda f: f("pren16n"),
    "weights": lambda f: f("Xx"),
    "certifiable": lambda f: f(STEEL, 3),
    "certificate_box": lambda f: f(3),
    "chapter_explorer": lambda f: f("welding"),
    "charge": lambda f: f(TWO, "no.csv", None),
    "check_grade": lambda f: f(STEEL, "1.9999"),
    "compare_plans": lambda f: f(gk.Brief({"Cr": (10, 30)}, minimise={"Cr": 1}), truths=1),
    "cold_map": lambda f: f(STEEL, relation="md30"),
    "cold_schedule": lambda f: f(PLANT, "thick", 2.0),
    "common_window": lambda f: f(["1.4301", "1.9999"]),
    "compare_grades": lambda f: f("1.4301", "1.4016", prices="no.csv"),
    "contributions": lambda f: f(TWO, ["pren_16n"]),
    "class_report": lambda f: f("no such folder"),
    "course": lambda f: f(3),
    "course_page": lambda f: f("no such folder/course.html"),
    "design_grade": lambda f: f(3),
    "diagram": lambda f: f(["wrc_1992"]),
    "heats_box": lambda f: f(3),
    "heats_report": lambda f: f(STEEL, present_grade="1.9999"),
    "inputs": lambda f: f("no.toml"),
    "lab_tests": lambda f: f(TWO, {"heat": "Schmelze"}),
    "middle_heat": lambda f: f(3),
    "present_heats": lambda f: f(3),
    "draw": lambda f: f("wrc_1992", STEEL, width="wide"),
    "duplex_phases": lambda f: f("x"),
    "estimate": lambda f: f(STEEL, "hardnes"),
    "estimate_chart": lambda f: f(STEEL, "hardnes"),
    "dates_of": lambda f: f(STEEL, "no such column"),
    "drift": lambda f: f(STEEL, dates=["2026-01-01", "2026-01-02"]),
    "practices": lambda f: f(STEEL, "no such column"),
    "room_left": lambda f: f(STEEL, groups="no such column"),
    "stand_apart": lambda f: f(STEEL, "no such column"),
    "estimate_scatter": lambda f: f(STEEL),
    "evaluate": lambda f: f(STEEL, "pren16n"),
    "exercise_set": lambda f: f(-1),
    "explain": lambda f: f(TWO, "pren_16n"),
    "explorer": lambda f: f(STEEL, reference="no such"),
    "finish": lambda f: f("9Z"),
    "fit_chart": lambda f: f(3),
    "fit_property": lambda f: f(TWO, "proof_strength_MPa"),
    "fitted_from": lambda f: f({}),
    "flow_stress": lambda f: f("hot", 1),
    "grade": lambda f: f("1.9999"),
    "freezing_modes": lambda f: f("B"),
    "grain_after": lambda f: f("coarse", 1100, 60),
    "hot_schedule": lambda f: f(STEEL, None),
    "internal_window": lambda f: f("1.4301", z="two"),
    "load_diagram": lambda f: f("no.json"),
    "martensite": lambda f: f("half", 20, -10),
    "martensite_under_strain": lambda f: f(TWO),
    "messages": lambda f: f(None),
    "microstructures": lambda f: f("Q"),
    "model_card": lambda f: f("hardnes"),
    "nearest_grades": lambda f: f(STEEL, 0),
    "next_trials": lambda f: f(gk.Brief({"Cr": (10, 30)}, minimise={"Cr": 1})),
    "nitrogen": lambda f: f("x"),
    "nitrogen_in_melt": lambda f: f("x"),
    "nitrogen_map": lambda f: f(STEEL, manganese=3),
    "printed_limits": lambda f: f(3),
    "read_certificate": lambda f: f("no.csv"),
    "read_heats": lambda f: f("no.csv"),
    "read_heats_text": lambda f: f(3),
    "read_plant": lambda f: f("no.csv"),
    "typical_plant": lambda f: f("no.csv"),
    "physical_properties": lambda f: f("x"),
    "read_prices": lambda f: f("no.csv"),
    "reading_report": lambda f: f(3),
    "read_stock": lambda f: f("no.csv"),
    "read_scatter": lambda f: f(PLANT.with_name("heats.csv")),
    "refine": lambda f: f(TWO, PLANT),
    "register": lambda f: f(3),
    "route_chart": lambda f: f(pd.DataFrame({"step": []})),
    "route_explorer": lambda f: f(TWO, PLANT),
    "rules": lambda f: f([]),
    "scene": lambda f: f("duplex", TWO),
    "solidification": lambda f: f("x"),
    "screen": lambda f: f({}, gk.Brief({"Cr": (0, 30)}, minimise={"Cr": 1})),
    "space_map": lambda f: f(3, "Ni", "N"),
    "spread": lambda f: f(STEEL, "md31"),
    "substitution": lambda f: f("no.json"),
    "survivors_of": lambda f: f("no_such_folder"),
    "lesson_plan": lambda f: f("no such folder/plan.html"),
    "teacher_page": lambda f: f(7, "page.html", sets=0),
    "typical_analysis": lambda f: f("1.9999"),
    "to_atomic_percent": lambda f: f(STEEL),
    "to_weight_percent": lambda f: f(pd.DataFrame({"Xx": [1.0]})),
    "walk_route": lambda f: f(STEEL, 3),
    "weld": lambda f: f(TWO, STEEL, STEEL),
    "weld_explorer": lambda f: f(TWO, "a", "b", "c"),
    "what_separates": lambda f: f(STEEL, "1.4301", 3),
    "why": lambda f: f(TWO, STEEL, "pren_16n"),
    "window": lambda f: f("1.4301", 3),
    "works_grade": lambda f: f("", STEEL),
    "write_heats": lambda f: f(STEEL, 3),
    "write_tables": lambda f: f(3, "t.csv"),
}
#: Not asked to refuse: any text may claim nothing.
ANYTHING = {"claims"}


def test_every_public_function_that_takes_something_refuses_something():
    taking = {n for n, f in FUNCTIONS.items() if inspect.signature(f).parameters}
    assert taking - ANYTHING == set(REFUSED)


@pytest.mark.parametrize("name", REFUSED)
def test_what_a_function_refuses_it_refuses_in_words_and_says_so_before(name):
    assert "Raises" in sections(name)
    with pytest.raises(gk.InputError, match="must be"):
        REFUSED[name](PUBLIC[name])


def test_a_function_wins_over_the_module_of_its_name():
    code = (
        "import gradekit.pictures.draw, gradekit.diagrams.constitution, gradekit.standards.grades\n"
        "import gradekit as gk\n"
        "assert all(callable(f) for f in (gk.draw, gk.diagram, gk.grades, gk.estimate))"
    )
    subprocess.run([sys.executable, "-c", code], check=True)


def test_unknown_public_name_says_what_there_is():
    with pytest.raises(AttributeError, match="evaluate"):
        gk.evalute  # noqa: B018
