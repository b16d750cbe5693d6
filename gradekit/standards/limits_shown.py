"""How the check of heats against a grade is shown."""

from __future__ import annotations

import pandas as pd

from gradekit.core.markup import details, evidence_line, panel, small, table
from gradekit.core.sources import weakest
from gradekit.core.verdicts import worst

_SHOWN = "heat standard element verdict value min max margin status rule reason".split()
# So many heats and standards are told in the sentence.
_TOLD = 4


class Checked(pd.DataFrame):
    """The limits of a grade, each judged; otherwise a DataFrame like any other."""

    @property
    def _constructor(self) -> type:
        return pd.DataFrame

    @property
    def by_standard(self) -> pd.DataFrame:
        """One row a heat and standard: the worst verdict, how many limits, the weakest evidence."""
        groups = self.groupby(["heat", "designation", "standard"], sort=False)
        judged = groups.agg(
            verdict=("verdict", worst), limits=("element", "size"),
            evidence=("status", lambda own: weakest(*own)),
        )  # fmt: skip
        return judged.reset_index().set_index("heat")

    @property
    def words(self) -> str:
        """How each heat stands by each standard, in one sentence.

        Examples
        --------
        >>> from gradekit.standards.check import check_grade
        >>> heat = {"C": 0.02, "Si": .4, "Mn": 1.4, "P": .03, "S": .003, "Cr": 18.1, "Ni": 8.1}
        >>> check_grade({**heat, "N": .05}, "1.4307", "EN 10088").words
        'heat 1, 1.4307 (EN 10088-2:2014): ok'
        """
        told = []
        names = ["heat", "designation", "standard"]
        for (heat, grade, standard), own in self.groupby(names, sort=False):
            poorest = worst(own["verdict"])
            which = dict.fromkeys(own.loc[own["verdict"] == poorest, "element"])
            why = "" if poorest == "ok" else f" ({', '.join(which)})"
            told.append(f"{heat}, {grade} ({standard}): {poorest}{why}")
        more = f"; and {len(told) - _TOLD} more" if len(told) > _TOLD else ""
        return "; ".join(told[:_TOLD]) + more

    def _repr_html_(self) -> str:
        rows = pd.DataFrame(self)[_SHOWN].rename(columns={"status": "evidence"})
        poor = rows[rows["verdict"] != "ok"]
        every = table(rows, "Contents in wt%", wide=["reason"], index=False)
        caption = "What is not kept or cannot be judged; contents in wt%"
        return panel(
            table(self.by_standard, "By each standard"),
            table(poor, caption, wide=["reason"], index=False),
            evidence_line(rows["evidence"], "limits"),
            details(f"All {len(rows)} limits", every),
            small("The standard in force decides; nothing here is a certificate."),
            lead=self.words,
        )
