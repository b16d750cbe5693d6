"""Make the model cards again from the measured tables, whose folder is given.

    python -m gradekit.properties.refit FOLDER [--out FOLDER]

The tables stay where they are: a card holds trees, ranges, scores and quantiles, no rows. Whole
series of heats are held out wherever a score or a quantile is made. The same tables, scikit-learn
and seed give the same bytes.
"""

from __future__ import annotations

import argparse
from pathlib import Path

from gradekit.core.files import write_whole
from gradekit.properties.estimate.cards import MODELS
from gradekit.properties.refit.judged import judge_relations
from gradekit.properties.refit.trees import (
    BY_COMPOSITION,
    FEATURES,
    TENSILE,
    read_tensile,
    tensile_card,
)
from gradekit.properties.refit.writing import as_text
from gradekit.relations.judgements import JUDGED


def main(arguments: list[str] | None = None) -> None:
    """Write every card."""
    parser = argparse.ArgumentParser(
        prog="python -m gradekit.properties.refit", description=__doc__
    )
    parser.add_argument("folder", type=Path, help="folder of the measured tables")
    parser.add_argument("--out", type=Path, default=MODELS, help="where the cards go")
    given = parser.parse_args(arguments)
    table = read_tensile(given.folder)
    for quantity in TENSILE:
        for suffix, features in (("", FEATURES), ("_by_composition", BY_COMPOSITION)):
            made = tensile_card(table, quantity, features)
            print(quantity + suffix, made["heats"], "heats", made["held_out"])
            write_whole(given.out / f"{quantity}{suffix}.json", as_text(made))
    judged = judge_relations(given.folder)
    for name, one in judged["relations"].items():
        print(f"{name}: bias {one['bias']:g}, rmse {one['rmse']:g}, {one['heats']} heats")
    write_whole(given.out / JUDGED.name, as_text(judged))


if __name__ == "__main__":
    main()
