"""One step of the works asked alone."""

from types import ModuleType

import pandas as pd

from gradekit.works.plant import Plant
from gradekit.works.row import as_table
from gradekit.works.step import Lot


def step_table(step: ModuleType, heats: pd.DataFrame, plant: Plant, **conditions) -> pd.DataFrame:
    """Return what one step says of a clean batch, as the table of a route."""
    lot = Lot(heats, plant, conditions, step.STEP)
    step.checks(lot)
    return as_table(lot.rows)
