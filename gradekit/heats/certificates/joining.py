"""Several batches become one, each heat with the bounds and remarks it came with."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import pandas as pd

from gradekit.core.aliases import Label
from gradekit.heats.certificates.names import unique_names
from gradekit.heats.notes import joined_notes, notes_of, with_notes


def join_batches(batches: Sequence[pd.DataFrame]) -> pd.DataFrame:
    """Put the heats of several batches under each other.

    Elements that only one of them has are unknown in the others. A name that is taken gets a
    number behind it, and that is said. Limits printed on the certificates stay only where all
    print the same: otherwise each batch is to be judged by its own.
    """
    places = [
        f"{notes_of(batch).get('source', f'batch {k}')}: "
        for k, batch in enumerate(batches, 1)
        for _ in batch.index
    ]
    remarks: list[str] = []
    taken = unique_names([h for b in batches for h in b.index], places.__getitem__, remarks)
    parts, records = [], []
    for batch in batches:
        names, taken = taken[: len(batch)], taken[len(batch) :]
        parts.append(pd.DataFrame(batch.to_numpy(), index=names, columns=batch.columns))
        records.append(_of_heats(notes_of(batch), dict(zip(batch.index, names, strict=True))))
    whole = pd.concat(parts).rename_axis("heat")
    notes = joined_notes(records)
    notes["titles"] = [line for record in records for line in record.get("titles", [])]
    notes["source"] = ", ".join(dict.fromkeys(r["source"] for r in records if "source" in r))
    limits = [record.get("limits", {}) for record in records]
    if all(printed == limits[0] for printed in limits):
        notes["limits"] = limits[0]
    else:
        remarks.append(
            "the certificates print different limits, so none stand beside the joined heats"
        )
    notes["messages"] += remarks
    return with_notes(whole, {key: value for key, value in notes.items() if value})


def told_of(
    batch: pd.DataFrame, name: str, told: Mapping[str, Mapping[Label, str]]
) -> pd.DataFrame:
    """Return a batch with what was told of each heat beside it; a single heat is called `name`."""
    names = {batch.index[0]: name} if name and len(batch) == 1 else {h: h for h in batch.index}
    notes = _of_heats(notes_of(batch), names)
    beside = {c: {names[h]: text for h, text in texts.items()} for c, texts in told.items()}
    notes["about"] = {**notes.get("about", {}), **beside}
    frame = pd.DataFrame(batch.to_numpy(), index=list(names.values()), columns=batch.columns)
    return with_notes(frame.rename_axis("heat"), notes)


def _of_heats(record: Mapping, names: Mapping) -> dict:
    """Return a record with only these heats in it, under their new names."""
    known = {
        key: {
            column: {names[heat]: value for heat, value in values.items() if heat in names}
            for column, values in record.get(key, {}).items()
        }
        for key in ("bounds", "about")
    }
    return dict(record) | known
