"""The numbers of the route explorer say where they come from."""

import html
import re

from design_kit import DATA
from panel_kit import place

import gradekit as gk
from gradekit.app.views import live

STEEL = {"C": 0.05, "Si": 0.4, "Mn": 1.4, "P": 0.03, "S": 0.003, "Cr": 18.2, "Ni": 8.1, "N": 0.05}


def test_each_number_of_the_route_names_source_evidence_and_relations():
    panel = gk.app.route_explorer(STEEL, DATA / "plant.csv")
    panel.limits.enter("hot_mill.force_max", "5")
    page = live(panel.moving(panel.state))
    names = [html.unescape(n) for n in re.findall(r'data-number="([^"]+)"', page)]
    rows = panel.route.table
    judged = rows[rows["verdict"] != "not assessed"]
    assert len(names) == len(judged) and any("force" in n for n in names)
    judged = judged.assign(key=judged["step"] + ": " + judged["check"]).sort_values("key")
    for name, (_, row) in zip(sorted(names), judged.iterrows(), strict=True):
        panel.ask(name)
        assert row["source"].split(";")[0] in place(panel, "moving").about.replace("&#x27;", "'")
        assert row["status"] in place(panel, "moving").about
    panel.ask(next(n for n in names if "force of the heaviest pass" in n))
    panel.limits.enter("hot_mill.force_max", "60")  # what is open follows the next step
    assert "limit ≤ 60" in place(panel, "moving").about
    panel.ask("a row that is not there")
    assert place(panel, "moving").about == ""
