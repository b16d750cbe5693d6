"""What published relations were found to do on measured heats that their authors did not see."""

from __future__ import annotations

import json
from functools import cache

from gradekit.sources import REFERENCE

__all__ = ["JUDGED", "judged", "measured_words"]

JUDGED = REFERENCE / "models" / "judged_relations.json"


@cache
def judged() -> dict[str, dict]:
    """Return what published relations were found to do on measured heats, by relation.

    Each entry: `bias` (calculated minus measured), `mae`, `rmse`, `heats`, `unit`, `table`.

    Examples
    --------
    >>> judged()["yield_nordberg_2004"]["unit"]
    'MPa'
    """
    return json.loads(JUDGED.read_text("utf-8"))["relations"]


def measured_words(name: str) -> str:
    """Return the finding on one relation in words, '' where it was not judged.

    Examples
    --------
    >>> measured_words("pren_16n")
    ''
    """
    found = judged().get(name)
    if not found:
        return ""
    return (
        f"measured here: bias {found['bias']:+.3g}, rmse {found['rmse']:.3g} {found['unit']} on "
        f"{found['heats']} heats ({found['table']})"
    )
