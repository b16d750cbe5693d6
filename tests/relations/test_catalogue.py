"""The catalogue against its checks, and the checks against wrong coefficients."""

import ast
import csv
import itertools
import re
import subprocess
import sys

import numpy as np
import pytest

import gradekit as gk
from gradekit.core.formula import Formula
from gradekit.core.sources import REFERENCE, STATUSES, bibliography
from gradekit.relations.collection import Catalogue
from gradekit.relations.declaration import CONDITIONS, Check, Linear
from gradekit.relations.topics import CATALOGUE
from gradekit.relations.topics._catalogue import QUANTITIES

NAMES = list(CATALOGUE)
DECLARED = [n for n in NAMES if CATALOGUE[n].status != "reconstruction"]
# Relations of state 'route' set published ones against limits of the trade.
PUBLISHED = [n for n in DECLARED if CATALOGUE[n].state != "route"]


# A coefficient wrong by a tenth must show at the check; the second reading compares every digit.
WRONG = 0.1


def space_at_check(relation, **changes):
    """Columns of the relation at its check composition."""
    composition = dict(relation.check.composition)
    space = {e: 0.0 for e in relation.elements} | composition | dict(relation.check.conditions)
    space["Fe"] = 100.0 - sum(composition.values())
    return {k: np.float64(v) for k, v in (space | changes).items()}


@pytest.mark.parametrize("name", NAMES)
def test_value_at_the_check(name):
    relation = CATALOGUE[name]
    result = gk.evaluate(relation.check.composition, name, **relation.check.conditions)
    assert result.values.iloc[0, 0] == pytest.approx(
        relation.check.value, abs=relation.check.allowed
    )


@pytest.mark.parametrize("name", [n for n in NAMES if isinstance(CATALOGUE[n], Linear)])
def test_check_sees_a_wrong_linear_coefficient(name):
    relation = CATALOGUE[name]
    space = space_at_check(relation)
    amounts = relation.term_values(space)
    for term, coefficient in relation.terms.items():
        assert amounts[term] > 0, f"{term} is absent from the check"
        moved = abs(WRONG * coefficient * amounts[term])
        assert moved > relation.check.allowed, term
    assert len({float(a) for a in amounts.values()}) == len(amounts), "two terms weigh the same"


# Literals that the check composition cannot reach, each with its reason.
UNREACHED = {
    "ni_eq_espy_1982": {0.20, 0.25, 22, 20},  # other branches of the nitrogen coefficient
    "ferrite_hull_cass_1994": {0.9},  # clamp of the ratio
    "ferrite_index_fi1_us6056917": {4.2},  # clamp, below the check
    "martensite_index_si_us6056917": {8.1},
    "log_cvsat_cass_cf8m": {10, 2.64, 0.064},
    "q_hot_deformation_mo": {500},
    "n_castable_by_mode": {1.55, 0},  # end of the ramp, not reached by a ratio inside it
    "n_margin_castable": {1.55, 0},
    # a tenth more than nothing is nothing: what is set to 0, and floors at 0
    "ms_finkler_1996": {0},
    "ni_eq_espy_smooth": {0, 0.15},  # ends of the ramp
}


class Nudge(ast.NodeTransformer):
    """Change the k-th number of a formula by a tenth."""

    def __init__(self, k):
        self.k, self.seen, self.number = k, -1, None

    def visit_Constant(self, node):
        self.seen += 1
        if self.seen == self.k:
            self.number = node.value
            return ast.Constant(node.value * (1 + WRONG))
        return node


@pytest.mark.parametrize("name", [n for n in DECLARED if not isinstance(CATALOGUE[n], Linear)])
def test_check_sees_a_wrong_number_in_a_formula(name):
    relation = CATALOGUE[name]
    space = space_at_check(relation)
    unseen = set()
    text = "\n".join(p.strip() for p in relation.algebra.split(";"))
    count = sum(isinstance(n, ast.Constant) for n in ast.walk(ast.parse(text)))
    for k in range(count):
        nudge = Nudge(k)
        changed = ast.unparse(ast.fix_missing_locations(nudge.visit(ast.parse(text))))
        formula = Formula(changed.replace("\n", "; "), relation.uses)
        moved = abs(float(formula.on(space)) - float(relation.value(space)))
        if moved <= relation.check.allowed:
            unseen.add(nudge.number)
    # Which branch of a minimum holds at the check is a fact of the check, so both sides are listed.
    allowed = UNREACHED.get(name, set()) | branch_numbers(name)
    assert unseen <= allowed, unseen - allowed


def branch_numbers(name):
    """Numbers of the estimate that is not the lower one at the check (ageing of castings)."""
    if not name.startswith("log_cvsat"):
        return set()
    relation = CATALOGUE[name]
    parts = dict(p.strip().split(" = ") for p in relation.algebra.split(";") if " = " in p)
    space = space_at_check(relation)
    head = "; ".join(f"{k} = {v}" for k, v in parts.items())
    a, b = (float(Formula(f"{head}; {x}", relation.uses).on(space)) for x in "ab")
    higher = ast.parse(parts["a" if a > b else "b"])
    numbers = {n.value for n in ast.walk(higher) if isinstance(n, ast.Constant)}
    return numbers | ({0.035} if a > b else set())


@pytest.mark.parametrize("name", NAMES)
def test_what_travels_with_a_relation(name):
    relation = CATALOGUE[name]
    assert relation.status in STATUSES
    assert relation.title and relation.quantity and relation.unit
    assert (relation.error is None) == (
        relation.error_basis.startswith(("none", "4 alloys", "bias"))
    )
    assert set(relation.conditions) <= set(CONDITIONS)
    for low, high in relation.ranges.values():
        assert low is None or high is None or low <= high
    if relation.status != "reconstruction":
        assert set(relation.source) <= set(bibliography())


def test_formula_text_is_made_from_the_declaration():
    assert CATALOGUE["ni_eq_wrc_1992"].formula == "Ni + 35*C + 20*N + 0.25*Cu"
    for name in NAMES:
        relation = CATALOGUE[name]
        space = space_at_check(relation)
        again = Formula(relation.formula, getattr(relation, "uses", {})).on(space)
        assert float(again) == pytest.approx(float(relation.value(space)), rel=1e-12)


def declared_sums():
    """What is written in the topics as the sum of each linear relation."""
    texts = {}
    for path in REFERENCE.parent.joinpath("relations", "topics").glob("[a-z]*.py"):
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            called = node.func if isinstance(node, ast.Call) else None
            if isinstance(called, ast.Attribute) and called.attr == "linear":
                name, _, algebra = (ast.literal_eval(argument) for argument in node.args)
                texts[name] = algebra
    return texts


def test_no_set_of_coefficients_stands_twice():
    """Of two relations with the same terms one names the other, and does not repeat them."""
    seen, texts = {}, declared_sums()
    assert {n for n in PUBLISHED if isinstance(CATALOGUE[n], Linear)} <= {
        *texts,
        "fn_delong_linear",
    }
    for name in NAMES:
        relation = CATALOGUE[name]
        if isinstance(relation, Linear) and len(relation.terms) > 2:
            key = tuple(sorted(relation.terms.items()))
            twin = seen.setdefault(key, name)
            named = {*re.findall(r"\w+", texts.get(name, ""))} & {*NAMES}
            assert twin == name or named or relation.terms is CATALOGUE[twin].terms, (twin, name)


def test_no_coefficient_stands_outside_the_declarations():
    """A number with three or more digits of a relation occurs in no other module."""
    package = REFERENCE.parent
    numbers = {}
    written = [*declared_sums().values()]
    written += [p.read_text("utf-8") for p in package.glob("relations/topics/[a-z]*.py")]
    for node in itertools.chain.from_iterable(map(ast.walk, map(ast.parse, written))):
        if isinstance(node, ast.Constant) and type(node.value) in (int, float):
            digits = f"{node.value:.10g}".replace(".", "").replace("-", "").strip("0")
            if len(digits) >= 4 and node.value not in (273.15, 100.0):
                numbers[float(node.value)] = node.value
    found = []
    for path in package.rglob("*.py"):
        if path.parent.name == "topics" or path.name == "readings.py":
            continue
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(node, ast.Constant) and node.value in numbers:
                if isinstance(node.value, float):
                    found.append((path.name, node.lineno, node.value))
    assert not found


def test_bibliography_is_complete_and_unique():
    with open(REFERENCE / "references.csv", encoding="utf-8", newline="") as file:
        keys = [row["key"] for row in csv.DictReader(file)]
    assert len(keys) == len(set(keys))


def test_a_relation_needs_source_and_check():
    good = dict(quantity="q", unit="1", status="memory", source=("deighton_1970",), terms={"Cr": 1})
    with pytest.raises(TypeError, match="check"):
        Linear(name="x", title="X", **good)
    with pytest.raises(gk.InputError, match="source of x"):
        Linear(
            name="x", title="X", check=gk.relations.Check({"Cr": 1}, 1), **(good | {"source": ()})
        )
    with pytest.raises(gk.InputError, match="nearest memory"):
        Linear(
            name="x",
            title="X",
            check=gk.relations.Check({"Cr": 1}, 1),
            **(good | {"status": "memori"}),
        )


def test_catalogue_table():
    table = gk.catalogue()
    assert list(table.index) == NAMES
    wanted = "quantity title unit form range family standard_error error_basis status source"
    assert set(wanted.split()) <= set(table.columns)
    assert table["source"].str.len().min() > 10


@pytest.mark.parametrize(
    "wrong, close", [("pren16n", "pren_16n"), ("md30_nohara", "md30_nohara_1977")]
)
def test_wrong_name_meets_its_neighbour(wrong, close):
    with pytest.raises(gk.InputError, match=close):
        gk.evaluate({"Cr": 18}, wrong)


def test_the_weights_of_an_element_are_those_of_the_published_equivalents():
    """The spread lists: every coefficient in use, the outermost ones too."""
    known = {
        "N": (11.5, 14.2, 20.0, 21.75, 25.0, 30.0), "C": (20.04, 21.0, 22.0, 24.55, 30.0, 35.0),
        "Nb": (0.14, 0.5, 0.7, 1.0, 1.75, 2.0, 5.0), "Cu": (0.25, 0.4, 0.46, 0.5, 1.0),
    }  # fmt: skip
    for element, values in known.items():
        found = gk.relations.weights(element)
        assert set(values) <= set(found["weight"]) and found["weight"].is_monotonic_increasing
        for name, row in found.iterrows():
            assert CATALOGUE[name].terms[element] == row["weight"]
    assert gk.relations.weights("Nb").loc["cr_eq_9cr_p91", "weight"] == 5.0
    assert "0.52*Cu" in CATALOGUE["ferrite_slab_ratio_cu"].formula
    with pytest.raises(gk.InputError, match="element"):
        gk.relations.weights("Xx")


def test_a_quantity_has_one_unit():
    units = {}
    for relation in CATALOGUE.values():
        assert units.setdefault(relation.quantity, relation.unit) == relation.unit, relation.name


@pytest.fixture
def declare():
    """Declare into a catalogue of its own, which knows one relation."""
    own = Catalogue()
    common = dict(status="memory", source=("deighton_1970",), check=Check({"Cr": 1.0}, 1.0))
    own.linear("base_sum", "Base", "2 + Cr - 0.3*Ni", quantity="base, wt%", **common)

    def declared(algebra, quantity="base, wt%", **fields):
        return own.linear("own_sum", "Own", algebra, quantity=quantity, **(common | fields))

    return declared


def test_a_sum_is_read_as_it_is_written(declare):
    mine = declare("3*(base_sum - 0.93*Ni - 6.7) + temperature_C")
    assert mine.intercept == -14.1
    assert mine.terms == {"Cr": 3.0, "Ni": -3.69, "temperature_C": 1.0}
    assert (mine.quantity, mine.unit) == ("base", "wt%")


@pytest.mark.parametrize("algebra", ["Cr**2", "sqrt(N)", "other_sum + Cr", "Cr + 'x'", "Cr/Ni"])
def test_what_is_no_sum_of_what_is_known_is_refused(declare, algebra):
    with pytest.raises(gk.InputError, match="sum of own_sum · must be of numbers, elements"):
        declare(algebra)


def test_a_quantity_without_its_unit_is_refused(declare):
    with pytest.raises(gk.InputError, match="quantity of own_sum · must be with its unit"):
        declare("Cr", quantity="base")


def test_the_ranges_stand_in_the_domain_where_it_states_them(declare):
    stated = declare("Cr", domain="Cr 16-18.5; Mn <=4 (memory); C<0.2; Ni 8; Co Ni; 18-8; FN 0-18")
    assert stated.ranges == {"Cr": (16, 18.5), "Mn": (None, 4), "C": (None, 0.2), "Ni": (8, 8)}


def test_ranges_told_apart_from_the_domain_hold(declare):
    assert declare("Cr", domain="Cr 16-18", ranges={"Ni": (8, None)}).ranges == {"Ni": (8, None)}


@pytest.mark.parametrize(
    "domain",
    [
        "Cr 16–18", "Cr 16 - 18", "Cr 16,5-18", "Ni 8-10; Mn ≤ 4", "Mn >= 2", "Si up to 2.5",
        "C+N 0.006-0.07", "Cr 11-18 ferritic welds", "Cr 16.5.2",
    ],
)  # fmt: skip
def test_what_begins_as_a_range_and_does_not_read_as_one_is_refused(declare, domain):
    """Passed over, it would be looked at for no heat, and nobody would be told."""
    with pytest.raises(gk.InputError, match="domain of own_sum · must be ranges as 'Cr 16-18'"):
        declare("Cr", domain=domain)
    assert declare("Cr", domain=domain, ranges={"Cr": (16, 18)}).ranges == {"Cr": (16, 18)}


def test_a_number_of_a_grade_is_no_range(declare):
    words = "S31254; N08904; 18-8 family; Creq 16-27; C only if dissolved"
    assert declare("Cr", domain=words).ranges == {}


@pytest.mark.parametrize(
    "ranges, words",
    [
        ({"Cr": (18, 16)}, "from low to high"),
        ({"creq": (16, 18)}, "of elements, conditions, relations declared before it, or 'value'"),
        ({"Cr + chromium": (16, None)}, "got 'Cr . chromium'"),
    ],
)
def test_a_range_that_no_heat_could_be_held_to_is_refused(declare, ranges, words):
    with pytest.raises(gk.InputError, match=f"range of own_sum.*{words}"):
        declare("Cr", ranges=ranges)
    known = {"base_sum": (0, 9), "max(Ni - 0.5*Mn, 0)": (1, None), "own_sum": (3, 3)}
    assert declare("Cr", ranges=known).ranges == known


def test_a_range_may_name_what_is_declared_later_before_anybody_has_looked():
    """Relations of diagrams load at the first look; a declaration of one's own may come sooner."""
    code = (
        "from gradekit.relations.declaration import Check\n"
        "from gradekit.relations.topics import CATALOGUE\n"
        "own = CATALOGUE.linear('own_sum', 'Own', 'Cr + Mo', quantity='base, wt%',\n"
        "    status='memory', source=('own',), ranges={'ferrite_wrc_1992': (0, 20)},\n"
        "    check=Check({'Cr': 18.0, 'Mo': 2.0}, 20.0))\n"
        "print(own.ranges)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True)
    assert done.stdout == "{'ferrite_wrc_1992': (0, 20)}\n", done.stderr


def test_a_range_of_what_is_no_element_is_refused_where_it_is_asked_for():
    from gradekit.relations.plan import Plan

    mine = CATALOGUE["pren_16n"].variant("own", ranges={"Xx": (None, 2)})
    with pytest.raises(gk.InputError, match="of elements, conditions and relations · got 'Xx'"):
        Plan((mine,))


def test_a_relation_that_the_catalogue_does_not_know_may_name_itself_in_a_range():
    mine = CATALOGUE["pren_16n"].variant("own_unheard", ranges={"own_unheard": (20, 25)})
    result = gk.evaluate([{"Cr": c, "Mo": 0.0, "N": 0.0} for c in (18, 22, 26)], mine)
    _, flags = result.column("own_unheard")
    below, above = (int(f) for f in (gk.Flag.BELOW_RANGE, gk.Flag.ABOVE_RANGE))
    assert (flags & (below | above)).tolist() == [below, 0, above]


def test_what_a_group_has_in_common_is_said_once_and_gives_way():
    own = Catalogue()
    shared = dict(status="memory", source=("deighton_1970",), check=Check({"Cr": 1.0}, 1.0))
    group = own.group(quantity="base, wt%", **shared)
    plain, other = (
        group.linear("a", "A", "Cr"),
        group.function("b", "B", "Cr**2", status="secondary"),
    )
    assert (plain.quantity, plain.unit, plain.status) == ("base", "wt%", "memory")
    assert (other.quantity, other.unit, other.status) == ("base", "wt%", "secondary")
    inner = group.group(title="of both", status="heuristic").linear("c", algebra="Ni")
    assert (inner.title, inner.quantity, inner.status) == ("of both", "base", "heuristic")
    assert list(own) == ["a", "b", "c"]


def test_the_longest_beginning_of_a_name_tells_the_quantity():
    own = Catalogue({"x": "x, wt%", "x_rise": "rise of x, °C"})
    fields = dict(status="memory", source=("deighton_1970",), check=Check({"Cr": 1.0}, 1.0))
    told = {name: own.linear(name, "X", "Cr", **fields) for name in ("x_a", "x_rise_b", "x_risen")}
    assert {n: (r.quantity, r.unit) for n, r in told.items()} == {
        "x_a": ("x", "wt%"), "x_rise_b": ("rise of x", "°C"), "x_risen": ("x", "wt%")
    }  # fmt: skip
    with pytest.raises(gk.InputError, match="quantity of xa · must be with its unit"):
        own.linear("xa", "X", "Cr", **fields)


def test_each_quantity_of_the_table_is_that_of_several_relations():
    for start, quantity in QUANTITIES.items():
        named = [r for n, r in CATALOGUE.items() if n.startswith(f"{start}_")]
        assert sum(f"{r.quantity}, {r.unit}" == quantity for r in named) > 1, start
