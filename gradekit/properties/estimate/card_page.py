"""The page of a model card: how sure, against what, where it holds, and what stays unknown."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pandas as pd

from gradekit.core.markup import Html, Part, details, number, panel, table


def card_page_of(data: Mapping) -> Html:
    """Return a card as HTML, the held-out errors first."""
    unit = data["unit"]
    counts = (
        f"{data['form']}. {data['rows']} tests of {data['heats']} heats: {data['source']}. "
        f"Made {data['date']} with {data['command']}; {data['held_out']['how']} held out."
    )
    shares: list[Part] = []
    if data["shift"]:
        caption = f"Share of {data['shift']['relation']} in the heats that report both"
        shares = [details("Published effects", table(published(data), caption, digits=2))]
    held = data["held_out"]
    name = f"{data['quantity'].replace('_', ' ').capitalize()}, {data['what']}"
    ranges = pd.DataFrame(data["range"], index=["from", "to"]).T
    return panel(
        table(errors(data), f"Errors on heats held out, {unit}", digits=3),
        details("Coverage of the 90 % interval",
                table(coverage(data), "Share of tests inside the 90 % interval", digits=3)),
        *shares,
        details("A plain sum of the same heats, with which no estimate is made",
                table(plain_sum(data), f"{unit} per wt%; its errors stand above", digits=3)),
        details("Range of the heats",
                table(ranges, "Outside, intervals widen and are flagged")),
        details("How it was made", counts),
        lead=f"{name}: errs by {number(held['mae'], 3)} {unit} on heats it has not seen",
    )  # fmt: skip


def errors(data: Mapping) -> pd.DataFrame:
    """Return the held-out errors of the model, of a plain sum and of the mean."""
    held, plain = data["held_out"], data["plain_sum"]["held_out"]
    rows = {
        "this model": [held["mae"], held["mae_room"], held["rmse"], held["bias"]],
        "plain sum": [plain["mae"], plain["mae_room"], plain["rmse"], plain["bias"]],
        "the mean": [np.nan, held["mean_only_mae_room"], np.nan, np.nan],
    }
    names = ["mean error", "at room temperature", "RMSE", "bias"]
    return pd.DataFrame(rows, index=names).T


def coverage(data: Mapping) -> pd.DataFrame:
    """Return the coverage by temperature and by kind of steel."""
    shares = data["held_out"]["coverage_90"]
    ends = [*shares["band_ends_C"], None]
    bands = [f"above {a:g} °C" if b is None else f"to {b:g} °C"
             for a, b in zip([0, *ends], ends, strict=False)]  # fmt: skip
    rows = {
        "all": shares["all"],
        **shares["kinds"],
        **dict(zip(bands, shares["bands"], strict=True)),
    }
    frame = pd.DataFrame({"inside": rows})
    heats = {**shares["heats"], **dict(zip(bands, shares["heats_by_band"], strict=True))}
    frame["heats"] = [str(heats.get(name, data["heats"])) for name in frame.index]
    return frame


def published(data: Mapping) -> pd.DataFrame:
    """Return what share of the published effects the heats show, with standard errors."""
    rows = {}
    for band in data["shift"]["found"]:
        name = "hotter" if band["up_to_C"] is None else f"to {band['up_to_C']:g} °C"
        shares = {
            said: f"{number(band[k]['share'], 2)} ± {number(band[k]['standard_error'], 2)}"
            for k, said in (("N", "nitrogen"), ("grain_size_um", "grain size"))
        }
        rows[name] = {"heats": band["heats"], **shares}
    return pd.DataFrame(rows).T


def plain_sum(data: Mapping) -> pd.DataFrame:
    """Return the coefficients of the plain sum with their standard errors."""
    data = data["plain_sum"]
    names = ["constant", *data["terms"]]
    return pd.DataFrame(
        {
            "coefficient": [data["constant"], *data["terms"].values()],
            "standard error": np.sqrt(np.diag(data["covariance"])),
        },
        index=pd.Index(names, name="term"),
    )
