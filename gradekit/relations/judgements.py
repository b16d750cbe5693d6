"""What published relations were found to do on measured heats that their authors did not see."""

from __future__ import annotations

import json
from functools import cache

from gradekit.core.sources import REFERENCE

JUDGED = REFERENCE / "models" / "judged_relations.json"


@cache
def judged_errors() -> dict[str, dict]:
    """Return what published relations were found to do on measured heats, by relation.

    Each entry: `bias` (calculated minus measured), `mae`, `rmse`, `rmse_by_group` (each source
    counted once, about the bias), `heats`, `groups`, `unit`, `table`, and `quantiles` of the error
    without its sign; of pitting and crevice temperatures also `by_family`: `bias`, `scatter`,
    `heats` of each family with four heats or more.

    Examples
    --------
    >>> judged_errors()["yield_nordberg_2004"]["unit"]
    'MPa'
    """
    return json.loads(JUDGED.read_text("utf-8"))["relations"]


def measured_error(name: str) -> float:
    """Return the standard error of a judged relation, in its unit.

    Where a few publications make up a table, each is also counted once, and the larger figure
    holds: a table of one large publication must not promise for the others.

    Examples
    --------
    >>> measured_error("cpt_g48") >= judged_errors()["cpt_g48"]["rmse"]
    True
    """
    one = judged_errors()[name]
    return max(one["rmse"], one["rmse_by_group"])


def measured_words(name: str) -> str:
    """Return the finding on one relation in words, '' where it was not judged.

    Examples
    --------
    >>> measured_words("pren_16n")
    ''
    """
    one = judged_errors().get(name)
    if not one:
        return ""
    once = ""
    if one["rmse_by_group"] > one["rmse"] and one["groups"] < one["heats"]:
        once = f", {one['rmse_by_group']:.3g} with each of {one['groups']} sources once"
    each = ", ".join(
        f"{family} {own['bias']:+.3g} ± {own['scatter']:.2g} ({own['heats']})"
        for family, own in one.get("by_family", {}).items()
    )
    return (
        f"measured here: bias {one['bias']:+.3g}, rmse {one['rmse']:.3g} {one['unit']} on "
        f"{one['heats']} heats ({one['table']}){once}"
        + (f"; bias and scatter by family: {each}" if each else "")
    )
