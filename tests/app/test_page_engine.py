"""A page computes what the library computes: every relation, flag, share and place, under Node."""

import json
import math
import os
import shutil
import subprocess
import sys

import numpy as np
import pandas as pd
import pytest

import gradekit as gk
from gradekit.app.pages.model import engine, text_of
from gradekit.app.panels.about_number import told
from gradekit.app.widgets.fields import condition_field, element_field
from gradekit.app.widgets.numbers import Field
from gradekit.core.formula import Formula
from gradekit.core.markup import number
from gradekit.relations.steels import families_by_votes
from gradekit.relations.topics import CATALOGUE

pytestmark = pytest.mark.skipif(shutil.which("node") is None, reason="Node is not installed")

DIAGRAMS = ("wrc_1992", "schaeffler_1949", "delong_1973")
# Families of steels by what they hold; each steel leaves some elements out and does not know some.
FAMILIES = {
    "austenitic": {"Cr": (16, 20), "Ni": (6, 14), "Mn": (0.5, 2), "N": (0.01, 0.2), "Mo": (0, 3)},
    "manganese": {"Cr": (15, 19), "Ni": (0.5, 5), "Mn": (5, 12), "N": (0.1, 0.4), "Cu": (0, 3)},
    "duplex": {"Cr": (20, 27), "Ni": (1, 8), "Mo": (0, 4.5), "N": (0.08, 0.35), "W": (0, 1)},
    "ferritic": {"Cr": (10.5, 30), "Ni": (0, 1), "Mo": (0, 4), "Ti": (0, 0.6), "Nb": (0, 0.6)},
    "martensitic": {"Cr": (11, 18), "Ni": (0, 5), "Mo": (0, 2), "V": (0, 0.3)},
    "alloyed": {"Cr": (19, 28), "Ni": (17, 36), "Mo": (0, 7), "N": (0, 0.5), "Cu": (0, 2)},
    "hardening": {"Cr": (12, 18), "Ni": (3, 8), "Cu": (0, 5), "Nb": (0, 0.5), "Al": (0, 1.5)},
}
COMMON = {"C": (0.005, 0.4), "Si": (0.1, 2), "Mn": (0.2, 2), "P": (0.01, 0.05), "S": (0, 0.03)}
RARE = {"Co": (0, 0.5), "B": (0, 0.005), "Al": (0, 0.1), "Ta": (0, 0.1), "Zr": (0, 0.3)}
CONDITIONS = {
    "temperature_C": (20, 1700), "grain_size_um": (5, 200), "grain_size_astm": (1, 12),
    "delta_ferrite_pct": (0, 60), "ferrite_vol_pct": (5, 80), "twin_spacing_um": (2, 80),
    "free_N": (0, 0.4), "chloride_M": (0.001, 5), "pN2_atm": (0.1, 2), "pCO_atm": (0.05, 1),
    "pH2_atm": (0.01, 1), "mode_factor": (0.7, 0.95),
}  # fmt: skip


def steels(count: int, seed: int) -> tuple[list[dict], dict[str, np.ndarray]]:
    rng = np.random.default_rng(seed)
    heats = []
    for k in range(count):
        kind = FAMILIES[list(FAMILIES)[k % len(FAMILIES)]]
        reported = np.random.default_rng(k % 41)  # so that many heats share their columns
        heat: dict[str, float | None] = {}
        for e, ends in (COMMON | RARE | kind).items():
            if e in kind or reported.random() < 0.8:
                heat[e] = float(rng.uniform(*ends))
            if e in heat and rng.random() < 0.03:
                heat[e] = None
        heats.append(heat)
    conditions = {c: rng.uniform(*ends, count) for c, ends in CONDITIONS.items()}
    return heats, conditions


def node(script: str, relations, diagrams=(), data: object = None) -> object:
    text = f"{engine(relations, diagrams)}\nconst data={json.dumps(data)};\n{script}"
    run = subprocess.run(["node", "-"], input=text, capture_output=True, text=True, timeout=300)
    assert run.returncode == 0, run.stderr[-2000:]
    return json.loads(run.stdout, parse_constant=float)


# NaN is no JSON: it goes as null, and so do the two infinities, which no value may be.
SEND = "const send=x=>process.stdout.write(JSON.stringify(x));"


def agree(ours: np.ndarray, page: list, what: str) -> None:
    theirs = np.array([math.nan if v is None else v for v in page], dtype=float)
    assert (np.isnan(ours) == np.isnan(theirs)).all(), what
    known = ~np.isnan(ours)
    # Where a sum comes out near zero, its last digit is that of its terms.
    size = np.abs(ours[known]) + 0.1 * np.mean(np.abs(ours[known])) if known.any() else 0.0
    far = np.abs(ours[known] - theirs[known]) > 1e-12 * size
    assert not far.any(), (what, ours[known][far][:3], theirs[known][far][:3])


def test_every_relation_gives_the_same_value_flags_and_error_on_ten_thousand_steels():
    heats, conditions = steels(10_000, 1)
    # A content that is not reported at all, and one that is asked for and unknown, differ.
    frames: dict[tuple, list[int]] = {}
    for k, heat in enumerate(heats):
        frames.setdefault(tuple(sorted(heat)), []).append(k)
    names = list(CATALOGUE)
    values = np.full((len(names), len(heats)), np.nan)
    flags = np.zeros(values.shape, dtype=int)
    errors = np.full(values.shape, np.nan)
    for elements, rows in frames.items():
        batch = pd.DataFrame([heats[k] for k in rows], columns=list(elements), dtype=float)
        result = gk.evaluate(batch, names, **{c: v[rows] for c, v in conditions.items()})
        values[:, rows] = result.values.to_numpy().T
        flags[:, rows] = result.flags.to_numpy().T
        errors[:, rows] = result.standard_error.to_numpy().T
    rows = {c: v.tolist() for c, v in conditions.items()}
    whole = pd.DataFrame(heats, dtype=float)
    kinds = families_by_votes(gk.as_batch(whole)).tolist()
    page, their_kinds = node(
        SEND
        + """
const out={},kinds=data.heats.map(familyOf);
for (const r of model.relations){
  const v=[],f=[],e=[];
  data.heats.forEach((heat,k)=>{
    const at=Object.fromEntries(Object.entries(data.conditions).map(([c,x])=>[c,x[k]]));
    const found=evaluate(r,heat,at,[],kinds[k]);
    v.push(found.value);f.push(found.flags);e.push(found.error);
  });
  out[r.name]=[v,f,e];
}
send([out,kinds]);""",
        CATALOGUE.values(),
        data={"heats": heats, "conditions": rows},
    )
    assert their_kinds == kinds and len(set(kinds)) > 8
    assert set(page) == set(names)
    for i, name in enumerate(names):
        agree(values[i], page[name][0], name)
        wrong = np.flatnonzero(flags[i] != np.array(page[name][1]))
        assert not wrong.size, (name, heats[wrong[0]], flags[i, wrong[0]], page[name][1][wrong[0]])
        agree(errors[i], page[name][2], f"error of {name}")
    assert np.isfinite(values).mean() > 0.5  # the comparison is not one of blanks


def test_conditions_that_are_not_given_and_contents_that_are_bounds_are_said_alike():
    heats = [{"C": 0.02, "Cr": 18.0, "Ni": 9.0, "N": "<0.03", "Mn": 1.2, "Mo": 0.2}]
    result = gk.evaluate(heats, list(CATALOGUE))
    plain = {e: float(v) for e, v in result.heats.iloc[0].items()}
    page = node(
        SEND
        + "send(model.relations.map(r=>evaluate(r,data.heat,{},['N'],familyOf(data.heat)))"
        + ".map(a=>[a.value,a.flags]));",
        CATALOGUE.values(),
        data={"heat": plain},
    )
    agree(result.values.iloc[0].to_numpy(), [a[0] for a in page], "bounds")
    assert result.flags.iloc[0].tolist() == [a[1] for a in page]


@pytest.mark.parametrize("name", DIAGRAMS)
def test_points_lie_in_the_same_field_with_the_same_reading(name):
    drawn = gk.diagram(name)
    rng = np.random.default_rng(3)
    data = drawn.data
    x = rng.uniform(data.x.low - 1, data.x.high + 1, 20_000)
    y = rng.uniform(data.y.low - 1, data.y.high + 1, 20_000)
    corners = np.vstack([r.polygon for r in drawn.regions])  # borders belong to one field exactly
    x, y = np.concatenate([x, corners[:, 0]]), np.concatenate([y, corners[:, 1]])
    ours = drawn.locate_xy(x, y)
    level = rng.uniform(*drawn.ends, len(x))
    page = node(
        SEND
        + """
const d=model.diagrams[0];
send(data.x.map((x,k)=>{const p=place(d,x,data.y[k]);
return [p.region,p.flags,p.value,p.tolerance,yAt(d,x,data.level[k])];}));""",
        [],
        [drawn],
        {"x": x.tolist(), "y": y.tolist(), "level": level.tolist()},
    )
    assert ours["region"].astype(str).tolist() == [p[0] for p in page]
    assert ours["flag"].tolist() == [p[1] for p in page]
    agree(ours["value"].to_numpy(), [p[2] for p in page], f"reading of {name}")
    agree(ours["tolerance"].to_numpy(), [p[3] for p in page], f"tolerance of {name}")
    agree(drawn.y_at(x, level), [p[4] for p in page], f"inverse of {name}")


def test_heats_are_placed_on_the_diagrams_alike():
    heats, _ = steels(210, 4)
    for name in DIAGRAMS:
        drawn = gk.diagram(name)
        page = node(
            SEND + "send(data.map(h=>locate(model.diagrams[0],h)).map(p=>[p.x,p.region,p.flags]));",
            [],
            [drawn],
            heats,
        )
        for k, heat in enumerate(heats):
            batch = pd.DataFrame([heat], dtype=float)
            spot = drawn.locate(batch).iloc[0]
            assert (str(spot["region"]), int(spot["flag"])) == (page[k][1], page[k][2]), heat


def test_contributions_and_changes_are_those_of_the_library():
    heats, conditions = steels(7, 5)
    known = [{e: v for e, v in heat.items() if v is not None} for heat in heats]
    given = {c: float(v[0]) for c, v in conditions.items()} | {"temperature_C": 1550.0}
    pairs = [(known[k], known[k] | {"Cr": known[k]["Cr"] + 0.7, "C": 0.03}) for k in range(7)]
    page = node(
        SEND
        + """
send(model.relations.map(r=>data.pairs.map(([a,b])=>{
  const pick=Object.fromEntries(r.conditions.map(c=>[c,data.given[c]]));
  const side=c=>({contents:c,conditions:pick});
  return [explain(r,a,pick),why(r,side(a),side(b)).parts];
})));""",
        CATALOGUE.values(),
        data={"pairs": pairs, "given": given},
    )
    for relation, rows in zip(CATALOGUE.values(), page, strict=True):
        own = {c: given[c] for c in relation.conditions}
        for (before, after), (parts, changes) in zip(pairs, rows, strict=True):
            table = gk.explain(before, relation, **own)
            scale = max(1.0, *np.abs(table["contribution"].fillna(0)))
            if table["contribution"].notna().any():
                assert [p[0] for p in parts] == table.index.tolist(), relation.name
                np.testing.assert_allclose(
                    [p[1] for p in parts], table["contribution"], rtol=1e-9, atol=1e-9 * scale
                )
            else:
                assert parts == []
            moved = gk.why(before, after, relation, **own)["contribution"]
            assert set(changes) == set(moved.index), relation.name
            for element, part in changes.items():
                expected = moved[element]
                if part is None:
                    assert math.isnan(expected)
                else:
                    assert part == pytest.approx(expected, rel=1e-8, abs=1e-9 * scale)


def test_every_kind_of_algebra_is_translated():
    texts = {
        "x = 2*Cr; y = x**2 - 1; y/x if x > 3 else -y": [1.0, 2.0],
        "where(Cr >= 1.5, min(Cr, 3), max(Cr, 2))": [1.0, 2.0, 4.0],
        "log10(Cr - 1) + exp(Cr) + sqrt(Cr)": [0.5, 2.0],
        "x = Cr; x = x + 1; +x*3": [1.0],
    }
    from gradekit.app.pages.translate import function_text

    for text, points in texts.items():
        formula = Formula(text)
        ours = np.broadcast_to(formula(Cr=np.array(points)), len(points))
        body = function_text(formula)
        script = (
            "const log10=x=>(x>0?Math.log10(x):NaN);"
            f"console.log(JSON.stringify({json.dumps(points)}.map(x=>({body})({{Cr:x}}))))"
        )
        run = subprocess.run(["node", "-e", script], capture_output=True, text=True, check=True)
        agree(ours.astype(float), json.loads(run.stdout), text)


def test_a_page_is_the_same_each_time_it_is_made():
    made = (
        "import gradekit as gk; from gradekit.app.pages.saved import page_text; "
        "panel = gk.explorer({'Cr': 18.0, 'Ni': 8.0}, relations=['pren_16n']); "
        "print(page_text(panel.page_content(panel.state, False)))"
    )
    pages = [
        subprocess.run([sys.executable, "-c", made], capture_output=True, check=True,
                       env=os.environ | {"PYTHONHASHSEED": seed}).stdout
        for seed in "12"
    ]  # fmt: skip
    assert pages[0] == pages[1] and len(pages[0]) > 10_000


def test_no_name_can_end_the_script_element():
    mine = CATALOGUE["pren_16n"].variant("pren_hostile", title="</script><script>alert(1)//\u2028")
    text = engine([mine])
    assert "</script" not in text.lower() and "\u2028" not in text


def view(script: str, relations, data: object = None) -> object:
    """Run what draws a page, as far as it needs no page."""
    return node(
        f"const page={{flagWords:[]}};\n{text_of('view.js')}\n{SEND}\n{script}", relations, (), data
    )


def test_what_is_said_of_each_value_is_what_the_library_says():
    heats, conditions = steels(140, 6)
    given = {c: float(v[0]) for c, v in conditions.items()}
    page = node(
        SEND
        + """
send(data.heats.map(heat=>{const kind=familyOf(heat);return model.relations.map(r=>{
  const at=Object.fromEntries(r.conditions.filter(c=>c in data.given).map(c=>[c,data.given[c]]));
  return reasons(r,evaluate(r,heat,at,[],kind),heat,at,kind);});}));""",
        CATALOGUE.values(),
        data={"heats": heats, "given": given},
    )
    kinds = set()
    for heat, words in zip(heats, page, strict=True):
        result = gk.evaluate(pd.DataFrame([heat], dtype=float), list(CATALOGUE), **given)
        (label,) = result.heats.index
        for name, said in zip(CATALOGUE, words, strict=True):
            assert said == result.words(label, name), (name, heat)
            kinds |= {part.split(":")[0][:12] for part in said.split("; ")}
    assert len(kinds) > 8


def test_numbers_are_written_alike():
    rng = np.random.default_rng(8)
    numbers = [*(rng.normal(size=300) * 10.0 ** rng.uniform(-7, 7, 300)), 0.0, -0.0, 1e-4, 9999.7,
               99.95, 0.09999, 10.125, 0.375, -2.5, 1434.5, 1433.5, math.nan]  # fmt: skip
    sent = [None if math.isnan(x) else x for x in numbers]
    page = view("send(data.map(x=>[2,3,4].map(d=>number(x,d))));", [], sent)
    assert page == [[number(x, d) for d in (2, 3, 4)] for x in map(float, numbers)]


def test_what_is_typed_is_read_as_the_kernel_reads_it_or_left_to_it():
    clear = ["18.2", "18,2", " 18,20 ", "0,050", ".5", ",5", "5.", "1e-2", "7", "", "−0"]
    other = ["1,234", "1.234", "1.234,5", "1 234", "eighteen", "1,2,3", "0x10", "1e", "--2", "٣",
             "1,5 mm", "20 °C", "68 °F", "350 ppm", "0,3 %", "2 wt.-%", "5 kg", "300K"]  # fmt: skip
    boxes = [element_field("Cr"), condition_field("temperature_C"), condition_field("mode_factor"),
             Field("dilution", 0.0, 100.0, 1.0, 0.0, 100.0, unit="%")]  # fmt: skip
    for field in boxes:
        data = {"texts": clear + other, "most": field.most, "unit": field.unit}
        page = view(
            f"page.units={{{json.dumps(field.unit)}:{json.dumps(field.units)}}};"
            "send(data.texts.map(t=>{const x=numberOf(t,data.most,data.unit);"
            "return x===undefined?'?':x}));",
            [], data,
        )  # fmt: skip
        for text, read in zip(clear + other, page, strict=True):
            try:
                ours = field.read(text)
            except gk.InputError:
                ours = "?"
            low, high = field.least, field.most
            if isinstance(read, float | int) and (
                (low is not None and read < low) or (high is not None and read > high)
            ):
                read = "?"  # the page refuses it by its ends
            if text == "" and not field.optional:
                continue
            assert read in (ours, "?"), (field.name, text, read, ours)
            assert text not in clear or read == ours, (field.name, text, read, ours)


def test_what_is_told_of_a_number_is_the_same_in_a_panel_and_in_a_page():
    """One declaration, `told.py`: every relation, a steel of each family."""
    heats, conditions = steels(7, 9)
    known = [{e: v for e, v in heat.items() if v is not None} for heat in heats]
    rows = {c: v.tolist() for c, v in conditions.items()}
    page = node(
        SEND
        + """
send(model.relations.map(r=>data.heats.map((heat,k)=>{
  const at=Object.fromEntries(Object.entries(data.conditions).map(([c,x])=>[c,x[k]]));
  const before={name:"the start",contents:data.heats[(k+3)%7]};
  return told(r,heat,k%5?at:{},k%3?before:null);
})));""",
        CATALOGUE.values(),
        data={"heats": known, "conditions": rows},
    )
    words, pictures = set(), 0
    for relation, found in zip(CATALOGUE.values(), page, strict=True):
        for k, theirs in enumerate(found):
            given = {c: float(v[k]) for c, v in conditions.items()} if k % 5 else {}
            start = known[(k + 3) % 7] if k % 3 else None
            ours = told(relation, known[k], given, start)
            where = relation.name, k
            assert [tuple(line) for line in theirs["lines"]] == ours.lines, where
            shown = zip(theirs["pictures"], ours.pictures, strict=True)
            for (title, page_parts), (said, parts) in shown:
                assert title == said, where
                assert [name for name, _ in page_parts] == [name for name, _ in parts], where
                sizes = [size for _, size in page_parts]
                assert sizes == pytest.approx([size for _, size in parts], rel=1e-8), where
            words |= {word for word, _ in ours.lines}
            pictures += len(ours.pictures)
    assert {"To be said", "Formula", "Made for", "Range", "Error", "Evidence", "Source"} <= words
    assert sum(word.startswith("Also give ") for word in words) > 20 and pictures > 1300
