"""Make the model cards again from the measured tables, whose folder is given.

    python -m gradekit.refit FOLDER [--out FOLDER]

The tables stay where they are: a card holds trees, ranges, scores and quantiles, no rows. Whole
heats are held out wherever a score or a quantile is made. The same tables, scikit-learn and seed
give the same bytes.
"""

from __future__ import annotations

import argparse
import json
from pathlib import Path

import numpy as np
import pandas as pd

from gradekit.conformal import Conformal
from gradekit.evaluate import evaluate
from gradekit.files import write_whole
from gradekit.models import MODELS, NOT_REPORTED, kind_of_steel, local_scale, predict_trees
from gradekit.relations import CATALOGUE

__all__ = ["judge_relations", "main", "tensile_card"]

TREES, FOLDS, SEED = 64, 10, 0
DATE = "2026-11-25"
TENSILE = {
    "proof_strength": ("YS02_MPa", "MPa"),
    "tensile_strength": ("UTS_MPa", "MPa"),
    "elongation": ("El_pct", "%"),
}
ELEMENTS = "C Si Mn P S Cr Ni Mo N Cu Nb Ti Al V Co B".split()
FEATURES = [*ELEMENTS, "solution_temperature_C", "grain_size_um", "temperature_C"]
# A card of its own for heats whose annealing is not told. In the tables a missing solution
# temperature marks a few laboratories, so "not reported" must not be learnt as a case.
BY_COMPOSITION = [*"C Si Mn P S Cr Ni Mo Nb Ti B".split(), "temperature_C"]
HULL = ["C", "Si", "Mn", "Cr", "Ni", "Mo", "Nb", "Ti"]
BAND_ENDS = [60.0, 250.0, 450.0, 650.0]
LEVELS = [0.5, 0.6, 0.68, 0.7, 0.75, 0.8, 0.85, 0.9, 0.95, 0.975]
TENSILE_SOURCE = "Cambridge MAP data library STMECH_AUS_SS, with NRIM creep data sheets"


def read_tensile(folder: Path) -> pd.DataFrame:
    """Return the usable rows with the names of the features."""
    table = pd.read_csv(folder / "tensile_annealed_austenitic.csv")
    table = table[table["flag"].isna() & (table["dup"] == 0)]
    return table.rename(
        columns={
            "solution_T_C": "solution_temperature_C",
            "mean_lineal_intercept_um": "grain_size_um",
            "test_T_C": "temperature_C",
        }
    ).reset_index(drop=True)


def tensile_card(table: pd.DataFrame, quantity: str, features: list[str] = FEATURES) -> dict:
    """Fit one card; every score and quantile is of heats that the trees did not see."""
    column, unit = TENSILE[quantity]
    rows = table[table[column].notna()].reset_index(drop=True)
    typical, leaf = {}, 2
    if features is BY_COMPOSITION:
        leaf = 4  # smaller leaves add size and hardly anything else
        typical = rows.drop_duplicates("heat_id")[features].median().map(_short).to_dict()
    reported = rows[features].to_numpy(dtype=float)
    x = rows[features].fillna(typical).fillna(NOT_REPORTED).to_numpy(dtype=float)
    y = rows[column].to_numpy(dtype=float)
    heats = rows["heat_id"].to_numpy()
    temperature = rows["temperature_C"].to_numpy(dtype=float)
    kinds = kind_of_steel(rows)

    held_out = np.empty(len(y))
    fold_of = _fold_of(heats)
    for fold in range(FOLDS):
        test = fold_of == fold
        held_out[test] = predict_trees(_arrays(_grow(x[~test], y[~test], leaf)), x[test])
    error = held_out - y

    scale = _scale(error, heats, temperature, kinds)
    scores = np.abs(error) / local_scale(scale, temperature, kinds)
    conformal = Conformal.of(scores, heats)
    trees = _arrays(_grow(x, y, leaf))
    hull = pd.DataFrame(reported, columns=features)[HULL].groupby(heats).mean().fillna(0.0)
    inverse = np.linalg.pinv(np.cov(hull.to_numpy().T) + 1e-8 * np.eye(len(HULL)))
    z = (hull - hull.mean()).to_numpy()
    distance = np.sqrt(np.einsum("ij,jk,ik->i", z, inverse, z))
    room = temperature < BAND_ENDS[0]
    return {
        "schema": 1,
        "quantity": quantity,
        "unit": unit,
        "what": "annealed wrought austenitic steel, 20 to 1000 °C",
        "form": "extremely randomised trees; the mean of all",
        "status": "computed-from-data",
        "source": TENSILE_SOURCE,
        "command": "python -m gradekit.refit FOLDER",
        "date": DATE,
        "seed": SEED,
        "scikit_learn": _version(),
        "heats": len(np.unique(heats)),
        "rows": len(y),
        "features": features,
        "not_reported": NOT_REPORTED,
        "typical": typical,
        "range": {
            f: [_short(np.nanmin(c)), _short(np.nanmax(c))]
            for f, c in zip(features, reported.T, strict=True)
        },
        "hull": {
            "features": HULL,
            "mean": [_short(v) for v in hull.mean()],
            "inverse_covariance": [[_short(v, 8) for v in row] for row in inverse],
            "limit": _short(np.quantile(distance, 0.98)),
        },
        "held_out": {
            "how": f"{FOLDS} folds of whole heats",
            "mae": _short(np.abs(error).mean()),
            "rmse": _short(np.sqrt((error**2).mean())),
            "bias": _short(error.mean()),
            "mae_room": _short(np.abs(error[room]).mean()),
            "mean_only_mae_room": _short(np.abs(y[room] - y[room].mean()).mean()),
            "heats_room": len(np.unique(heats[room])),
            "coverage_90": _coverage(error, heats, temperature, kinds, fold_of),
        },
        "scale": scale,
        "quantiles": {f"{q:g}": _short(conformal.at(q)) for q in LEVELS},
        "trees": [_packed(t) for t in trees],
    }


def _fold_of(heats: np.ndarray) -> np.ndarray:
    names = np.unique(heats)
    order = np.random.default_rng(SEED).permutation(len(names))
    fold = dict(zip(names[order], np.arange(len(names)) % FOLDS, strict=True))
    return np.array([fold[h] for h in heats])


def _grow(x: np.ndarray, y: np.ndarray, leaf: int):
    from sklearn.ensemble import ExtraTreesRegressor

    model = ExtraTreesRegressor(TREES, min_samples_leaf=leaf, max_features=1.0, random_state=SEED)
    return model.fit(x, y)


def _arrays(model) -> list[tuple[np.ndarray, ...]]:
    """Trees as rounded arrays: what the card will hold, so that scores belong to it."""
    found = []
    for estimator in model.estimators_:
        tree = estimator.tree_
        leaf = tree.children_left < 0
        feature = np.where(leaf, -1, tree.feature).astype(np.int16)
        threshold = np.array([_short(t) for t in np.where(leaf, 0.0, tree.threshold)])
        right = np.where(leaf, 0, tree.children_right).astype(np.int32)
        value = np.round(np.where(leaf, tree.value[:, 0, 0], 0.0), 1)
        found.append((feature, threshold, right, value))
    return found


def _packed(tree: tuple[np.ndarray, ...]) -> dict:
    return {
        name: [_whole(v) for v in array.tolist()]
        for name, array in zip(("feature", "threshold", "right", "value"), tree, strict=True)
    }


def _whole(value: float) -> float | int:
    return int(value) if value == int(value) else value


def _short(value: float, digits: int = 5) -> float:
    return float(f"{value:.{digits}g}")


def _version() -> str:
    import sklearn

    return sklearn.__version__


def _scale(error, heats, temperature, kinds) -> dict:
    """Size of the held-out errors by temperature, and by kind of steel beyond that."""
    band = np.searchsorted(BAND_ENDS, temperature, side="left")
    bands = [_typical(error[band == b], heats[band == b]) for b in range(len(BAND_ENDS) + 1)]
    relative = np.abs(error) / np.asarray(bands)[band]
    return {
        "band_ends_C": BAND_ENDS,
        "bands": [_short(b) for b in bands],
        "kinds": {
            str(k): _short(np.clip(_typical(relative[kinds == k], heats[kinds == k]), 0.7, 1.8))
            for k in np.unique(kinds)
        },
    }


def _typical(error: np.ndarray, heats: np.ndarray) -> float:
    """Size below which four fifths of the errors lie, each heat counting once."""
    _, at, sizes = np.unique(heats, return_inverse=True, return_counts=True)
    weight = 1.0 / sizes[at]
    order = np.argsort(np.abs(error))
    share = np.cumsum(weight[order]) / weight.sum()
    return float(np.abs(error)[order][np.searchsorted(share, 0.8)])


def _coverage(error, heats, temperature, kinds, fold_of) -> dict:
    """Share inside a 90 % interval whose scale and quantile the fold did not help to make."""
    inside = np.empty(len(error), dtype=bool)
    for fold in range(FOLDS):
        test = fold_of == fold
        rest = ~test
        scale = _scale(error[rest], heats[rest], temperature[rest], kinds[rest])
        scores = np.abs(error[rest]) / local_scale(scale, temperature[rest], kinds[rest])
        wide = Conformal.of(scores, heats[rest]).at(0.90)
        half = wide * local_scale(scale, temperature[test], kinds[test])
        inside[test] = np.abs(error[test]) <= half
    band = np.searchsorted(BAND_ENDS, temperature, side="left")
    return {
        "all": _short(inside.mean(), 3),
        "kinds": {str(k): _short(inside[kinds == k].mean(), 3) for k in np.unique(kinds)},
        "bands": [_short(inside[band == b].mean(), 3) for b in range(len(BAND_ENDS) + 1)],
    }


JUDGED_TENSILE = {
    "yield_nordberg_2004": "YS02_MPa",
    "yield_irvine_1969": "YS02_MPa",
    "yield_irvine_1969_const41": "YS02_MPa",
    "uts_nordberg_2004": "UTS_MPa",
}


def judge_relations(folder: Path) -> dict:
    """Compare published relations with the measured tables; bias is calculated minus measured."""
    found: dict[str, dict] = {}
    tensile = read_tensile(folder)
    room = tensile[(tensile["temperature_C"] < 35) & tensile["grain_size_um"].notna()]
    for name, column in JUDGED_TENSILE.items():
        batch = room[ELEMENTS].reset_index(drop=True)
        result = evaluate(
            batch, name, grain_size_um=room["grain_size_um"].to_numpy(), delta_ferrite_pct=0.0
        )
        error = result.values.iloc[:, 0].to_numpy() - room[column].to_numpy()
        found[name] = _judgement(error, room["heat_id"], "MPa", "annealed austenitic, 20 °C")
    pitting = pd.read_csv(folder / "pitting_crevice_temperature.csv")
    pitting = pitting[pitting["censored"].isna() & pitting["solution"].str.contains("FeCl3")]
    for name in CATALOGUE.quantities()["critical pitting temperature"]:
        _judge_corrosion(found, name, pitting[pitting["test"].str.contains("CPT")])
    for name in CATALOGUE.quantities()["critical crevice temperature"]:
        _judge_corrosion(found, name, pitting[pitting["test"].str.contains("CCT")])
    ms = pd.read_csv(folder / "ms_temperature.csv")
    ms = ms[ms["flag"].isna() & (ms["C"] <= 0.3) & ms["Cr"].between(10.5, 19)]
    elements = [c for c in ms if c in ELEMENTS or c == "W"]
    for name in CATALOGUE.quantities()["Ms"]:
        values = evaluate(ms[elements].reset_index(drop=True), name).values.iloc[:, 0].to_numpy()
        heats = pd.Series(np.arange(len(ms)))
        found[name] = _judgement(
            values - ms["Ms_C"].to_numpy(), heats, "°C", "11 to 18Cr steels, C up to 0.3"
        )
    return {
        "schema": 1,
        "what": "published relations on measured heats; bias is calculated minus measured",
        "command": "python -m gradekit.refit FOLDER",
        "date": DATE,
        "relations": {k: v for k, v in found.items() if v},
    }


def _judge_corrosion(found: dict, name: str, rows: pd.DataFrame) -> None:
    if "nacl" in name or "g150" in name or "jargelius" in name or name.endswith("ni_base"):
        return  # another test, or another kind of alloy: never mixed
    elements = [c for c in rows if c in ELEMENTS or c == "W"]
    batch = rows[elements].astype(float).reset_index(drop=True)
    # in these publications nitrogen was left out where none was added
    values = evaluate(batch.fillna({"N": 0.0}), name).values.iloc[:, 0].to_numpy()
    error = values - rows["value"].to_numpy(dtype=float)
    found[name] = _judgement(
        error, rows["source"], "°C", "FeCl3 immersion, a blank nitrogen taken as none added"
    )


def _judgement(error: np.ndarray, groups: pd.Series, unit: str, table: str) -> dict:
    good = np.isfinite(error)
    if good.sum() < 8:
        return {}
    e = error[good]
    # each publication (or heat) once: a table of one large publication must not promise for others
    by_group = pd.Series((e - e.mean()) ** 2).groupby(np.asarray(groups)[good]).mean()
    return {
        "rmse_by_group": _short(np.sqrt(by_group.mean()), 3),
        "bias": _short(e.mean(), 3),
        "mae": _short(np.abs(e).mean(), 3),
        "rmse": _short(np.sqrt((e**2).mean()), 3),
        "heats": int(good.sum()),
        "groups": int(pd.Series(np.asarray(groups))[good].nunique()),
        "unit": unit,
        "table": table,
        "quantiles": {
            f"{q:g}": _short(Conformal.of(np.abs(e), np.arange(len(e))).at(q))
            for q in (0.5, 0.68, 0.8, 0.9)
        },
    }


def as_text(data: dict) -> str:
    """Return the bytes of a card: one line a tree, keys in their order."""
    trees = data.pop("trees", None)
    text = json.dumps(data, indent=1, ensure_ascii=False)
    if trees is None:
        return text + "\n"
    lines = ",\n".join(json.dumps(t, separators=(",", ":")) for t in trees)
    return f'{text[:-2]},\n "trees": [\n{lines}\n]}}\n'


def main(arguments: list[str] | None = None) -> None:
    """Write every card."""
    parser = argparse.ArgumentParser(prog="python -m gradekit.refit", description=__doc__)
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
    for name, found in judged["relations"].items():
        print(f"{name}: bias {found['bias']:g}, rmse {found['rmse']:g}, {found['heats']} heats")
    write_whole(given.out / "judged_relations.json", as_text(judged))


if __name__ == "__main__":
    main()
