"""What the heats of a works say this week: what stands apart, what moves, what is left unused."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from functools import cached_property
from typing import TypeAlias

import pandas as pd

from gradekit.core.aliases import HeatsLike, TableLike
from gradekit.core.flags import Flag
from gradekit.core.markup import Html, Part, details, items, panel, small, table
from gradekit.core.waiting import Waiting
from gradekit.design.prices import Prices, read_prices
from gradekit.heats.batch import as_batch
from gradekit.heats.history import dates_of, drift, stand_apart
from gradekit.heats.notes import messages
from gradekit.heats.report import reading_report
from gradekit.heats.scatter import Scatter, estimate_scatter, practices
from gradekit.heats.writing import contents_as_written
from gradekit.pictures.curves import lines as curve
from gradekit.pictures.draw import draw
from gradekit.pictures.figure import Figure
from gradekit.pictures.style import SHAPES
from gradekit.relations.evaluate import Result, evaluate
from gradekit.standards.certificate import Certificate
from gradekit.standards.grades import grade
from gradekit.standards.guard import laboratory_sd
from gradekit.standards.nearest import nearest_grades, what_separates
from gradekit.standards.room_left import room_left
from gradekit.standards.steel import family

#: Called before each step with its name and the share that is done.
_Told: TypeAlias = Callable[[str, float], None]
_INDICES = ("pren_16n", "pren_30n", "pre_ferritic", "md30_nohara_1977", "md30_angel_1954")
_FOREIGN = "not for this steel, or not enough known"
_BEYOND = 0.0027  # of a normal distribution beyond three deviations
_SHOWN = 24
_LINES = 16
_UNFIT = (
    "Nothing here is a certificate: the standard in force decides, and a heat is accepted on its "
    "own analysis and tests. A practice with fewer than eight heats is not judged, bounds such as "
    "<0.005 take no part, and limits whose evidence is memory have to be looked up before money "
    "rests on them."
)


def heats_report(
    heats: HeatsLike,
    prices: Prices | TableLike | None = None,
    present_grade: str = "",
    grain_size_astm: float = 8.0,
    told: _Told | None = None,
) -> HeatsReport:
    """Return what the heats of a works say: the file, the steels, what is odd, moves and is unused.

    Parameters
    ----------
    heats : anything `as_batch` takes
        As `read_heats` gives them, with grades and dates where the file has them.
    prices : Prices, or table of `read_prices`, optional
        Without it contents are compared, and no money.
    present_grade : str, optional
        A grade by any name, to be told what separates the practices from it.
    grain_size_astm : float
        Of the delivered product, for relations that ask for it.
    told : callable, optional
        Is given the name of each step before it begins, and the share done. By default a bar is
        shown where it takes longer than three seconds.

    Returns
    -------
    HeatsReport
        `.lead` and `.lines` say the answer, its tables hold everything, `.tables()` for a workbook.

    Raises
    ------
    InputError
        Heats, prices or a grade that cannot be read.

    Examples
    --------
    >>> melted = [{"heat": f"H{k}", "grade": "1.4301", "Cr": 18.1 + 0.02 * (k % 4), "Ni": 8.1}
    ...           for k in range(9)]
    >>> report = heats_report([*melted, {"heat": "H9", "grade": "1.4301", "Cr": 19.3, "Ni": 8.1}])
    >>> report.lead
    '10 heats, 1 practice: 1 stands apart, 0 signs of drift, 0 do not keep what they claim'
    >>> report.lines[0]
    'H9 (1.4301) stands apart: Cr 19.3 where the practice has 18.13'
    """
    if present_grade:
        grade(present_grade)  # refused before anything is computed
    priced = None if prices is None else read_prices(prices)
    told = told or Waiting("The heats are looked at")
    report = HeatsReport(as_batch(heats), priced, present_grade, grain_size_astm)
    for number, (name, step) in enumerate(report.steps):
        told(name, number / len(report.steps))
        getattr(report, step)
    told("done", 1.0)
    return report


class HeatsReport:
    """The answer of `heats_report`; each table is computed once.

    Attributes
    ----------
    heats, practice, prices, present_grade, grain_size_astm
    families, nearest, separates, indices, apart, spread, drift, room, claims : tables
    scatter : Scatter or None
        What the designer takes; None where no practice has enough heats.
    """

    steps = (
        ("reading report", "report"),
        ("families", "families"),
        ("heats that stand apart", "apart"),
        ("drift", "drift"),
        ("limits and guards", "room"),
        ("claims", "claims"),
        ("nearest grades", "nearest"),
        ("indices", "indices"),
        ("scatter", "scatter"),
    )

    def __init__(
        self, heats: pd.DataFrame, prices: Prices | None, present_grade: str, grain: float
    ) -> None:
        self.heats, self.prices = heats, prices
        self.present_grade, self.grain_size_astm = present_grade, grain
        self.practice = practices(heats)
        #: Whether no column names the grades: the heats are then parted by what steel they are.
        self.by_family = self.practice.eq("all heats").all()
        if self.by_family:
            told = self.families[["family", "sub"]].agg(" ".join, axis=1).str.strip()
            self.practice = told if told.nunique() > 1 else self.practice

    # --- what is computed ---------------------------------------------------------------------

    @cached_property
    def report(self) -> pd.DataFrame:
        """What became of each row and column of the file, surprises first."""
        return reading_report(self.heats)

    @cached_property
    def families(self) -> pd.DataFrame:
        """Which steel each heat is."""
        return family(self.heats)

    @cached_property
    def kinds(self) -> pd.DataFrame:
        """How many heats of each practice are which steel."""
        told = ["practice", "family", "sub", "structure", "doubt"]
        counted = self.families.assign(practice=self.practice).groupby(told, dropna=False).size()
        return counted.to_frame("heats").reset_index().set_index("practice")

    @cached_property
    def means(self) -> pd.DataFrame:
        """The mean of each practice, wt%."""
        return self.heats.groupby(self.practice).mean().round(4)

    @cached_property
    def nearest(self) -> pd.DataFrame:
        """The three nearest grades of each practice, and what separates it from them."""
        close = nearest_grades(self.means, 3).rename(columns={"heat": "practice"})
        wanted = ["practice", "grade", "designation", "common", "distance", "separates", "evidence"]
        return close[wanted].round({"distance": 1})

    @cached_property
    def separates(self) -> dict[str, str]:
        """What separates each practice from the present grade, in words; empty without one."""
        if not self.present_grade:
            return {}
        words = {
            name: what_separates(self.means.loc[[name]], self.present_grade)["words"]
            for name in self.means.index
        }
        return {n: "; ".join(dict.fromkeys(w)) or "nothing: inside every limit"
                for n, w in words.items()}  # fmt: skip

    @cached_property
    def indices(self) -> Result:
        """Pitting and stability indices with flags."""
        return evaluate(self.heats, list(_INDICES), grain_size_astm=self.grain_size_astm)

    @cached_property
    def ranges(self) -> pd.DataFrame:
        """Mean, lowest and highest index of each practice, of relations made for such steels."""
        foreign = self.indices.flags.map(int).to_numpy() & int(Flag.OTHER_FAMILY)
        own = self.indices.values.mask(foreign > 0)
        by_practice = own.groupby(self.practice).agg(["mean", "min", "max"]).round(1).astype(object)
        by_practice.columns = [f"{name} {which}" for name, which in by_practice.columns]
        return by_practice.where(by_practice.notna(), _FOREIGN)

    @cached_property
    def apart(self) -> pd.DataFrame:
        """How far each heat lies from the middle of its practice."""
        return stand_apart(self.heats, self.practice)

    @cached_property
    def drift(self) -> pd.DataFrame:
        """What moves with time, the strongest first."""
        return drift(self.heats, self.practice).sort_values("run", ascending=False, kind="stable")

    @cached_property
    def spread(self) -> pd.DataFrame:
        """Standard deviation of each element in each practice, wt%."""
        by_practice = self.heats.groupby(self.practice).std().dropna(how="all", axis=1)
        by_practice.insert(0, "heats", self.practice.value_counts())
        return by_practice

    @cached_property
    def scatter(self) -> Scatter:
        """The scatter that the designer takes, that of laboratories where heats are too few."""
        usual = laboratory_sd().groupby("element")[["low", "high"]].mean().mean(axis=1)
        return estimate_scatter(self.heats, self.practice, otherwise=usual)

    @cached_property
    def room(self) -> pd.DataFrame:
        """The practices inside the limits they claim, less a guard, and what is left unused."""
        return room_left(
            self.heats, groups=self.practice, cost=self.prices.cost.terms if self.prices else None
        )

    @cached_property
    def claims(self) -> pd.DataFrame:
        """The verdict on each claim of each heat."""
        return Certificate(self.heats).verdicts

    @property
    def refused(self) -> pd.DataFrame:
        """Claims that are not kept."""
        return self.claims[self.claims["verdict"].eq("stop")]

    @property
    def near(self) -> pd.DataFrame:
        """Limits with heats outside or in their guard."""
        return self.room[(self.room["outside"] + self.room["in_guard"]).gt(0)]

    @property
    def unused(self) -> pd.DataFrame:
        """Contents above what limits and guard need, the dearest first."""
        return self.room[self.room["unused"].gt(0)].sort_values("saving", ascending=False)

    @property
    def _drawn(self) -> pd.Series:
        """The practices as a diagram has shapes for: of many the largest, and all others as one."""
        known = self.practice.value_counts().index
        most = len(SHAPES)
        shown = known if len(known) <= most else known[: most - 1]
        return self.practice.where(self.practice.isin(shown), "all others")

    # --- what is said -------------------------------------------------------------------------

    @cached_property
    def lead(self) -> str:
        """The answer in a sentence."""
        signs, odd = int(self.drift["words"].ne("").sum()), int(self.apart["apart"].sum())
        broken = self.refused["heat"].nunique()
        kept = "do not keep what they claim" if broken != 1 else "does not keep what it claims"
        return (
            f"{_count(len(self.heats), 'heat')}, {_count(self.practice.nunique(), 'practice')}: "
            f"{odd} {'stands' if odd == 1 else 'stand'} apart, "
            f"{_count(signs, 'sign')} of drift, {broken} {kept}"
        )

    @cached_property
    def lines(self) -> list[str]:
        """What to look at first, a line each."""
        odd, moved = self.apart[self.apart["apart"]], self.drift[self.drift["words"].ne("")]
        broken = self.refused.groupby(["heat", "reasons"], sort=False)["claim"].agg(", ".join)
        money = (self.room["saving"] * self.room["heats"]).astype(float)
        dearest = self.room.loc[money.nlargest(1).index]
        unjudged = int(self.apart["distance"].isna().sum())
        told = []
        if self.by_family and self.practice.nunique() > 1:
            told.append("no column names the grades: the heats are parted by what steel they are")
        told += [f"{heat} ({r.practice}) stands apart: {r.words}" for heat, r in odd.iterrows()]
        told += [f"{row.practice}, {row.words}" for row in moved.itertuples()]
        told += [f"{heat} does not keep {names}: {why}" for (heat, why), names in broken.items()]
        for row in dearest[dearest["saving"].gt(0)].itertuples():
            assert self.prices is not None
            told.append(
                f"most money in {row.element} of {row.practice}: {row.unused:.2g} wt% above what "
                f"{row.designations} and the guard need, {row.saving:.0f} {self.prices.unit} "
                f"({self.prices.warning})"
            )
        if not len(self.drift):
            told.append("no practice has eight dated heats: nothing can be said of drift")
        if not len(self.room):
            told.append("no grade was recognised in the file: no limits to compare with")
        if unjudged:
            told.append(f"{_count(unjudged, 'heat')} could not be judged: too few of their kind")
        return told

    def first_lines(self) -> list[str]:
        """The lines that a page begins with; of a long history most stand in the tables alone."""
        more = len(self.lines) - _LINES
        rest = [f"and {more} more: they stand in the tables"] if more > 0 else []
        return self.lines[:_LINES] + rest

    def chart(self, practice: str, element: str) -> Figure:
        """Return the contents of a practice in the order of their dates, with mean and limits."""
        row = self.drift[self.drift["practice"].eq(practice) & self.drift["element"].eq(element)]
        days = dates_of(self.heats)[self.practice == practice].dropna().sort_values()
        series = self.heats.loc[days.index, element].dropna()
        at = row.iloc[0]
        return curve(
            range(1, len(series) + 1), {element: series},
            levels={"mean": at["mean"], "-3 sd": at["low"], "+3 sd": at["high"]},
            title=f"{practice}: {element} from {at['first']} to {at['last']}",
            xlabel="heat, by date", ylabel=f"{element}, wt%",
        )  # fmt: skip

    def sections(self) -> dict[str, list[Part]]:
        """Return what stands behind the answer, by its heading."""
        chance = _BEYOND * self.drift["heats"].sum()
        money = self.prices.warning if self.prices else "No price list: contents only, no money."
        limits = "designations heats element min max internal_min internal_max lowest mean highest"
        report = ["label", "taken_as", "element", "unit", "reason"]
        left = ["designations", "element", "min", "internal_min", "mean", "unused", "saving"]
        moved = ["element", "heats", "mean", "sd_next", "sd", "run", "words"]
        doubtful = self.claims[self.claims["verdict"].isin(["stop", "caution"])]
        judged = ["claim", "designation", "standard", "verdict", "status", "reasons"]
        odd = self.apart.sort_values("distance", ascending=False)
        diagrams = [draw(name, self.heats, group=self._drawn) for name in
                    ("schaeffler_1949", "wrc_1992")]  # fmt: skip
        strongest = self.drift.head(1)
        return {
            "What became of the file": [
                items(messages(self.heats)),
                _table(self.report.set_index("where")[report], "Surprises first", ["reason"]),
            ],
            "Which steels they are": [_table(self.kinds, "Families, by practice", ["doubt"])],
            "The nearest grades, and what separates": [
                _table(self.nearest.set_index("practice"), "Of the mean of each practice; distance "
                       "in tolerances of the product analysis, 0 inside", ["separates"]),
                items(f"{n} from {self.present_grade}: {w}" for n, w in self.separates.items()),
            ],
            "Indices": [_table(self.ranges.T, "Of each practice; for its steels only")],
            "Diagrams": [d.tree for d in diagrams],
            "Which heats stand apart, and in what": [
                _table(odd[["practice", "distance", "limit", "apart", "words", "method"]].round(1),
                       "Robust distances, the farthest first", ["words"], 10),
                "A heat that stands apart is a reason to look into the books of that day.",
            ],
            "Scatter, by practice and element": [
                # Of some ten heats a standard deviation is known to a quarter of itself.
                table(self.spread, "Standard deviation, wt%", digits=2)
            ],
            "What moves": [
                f"By chance alone about {chance:.1f} points lie outside the control limits.",
                _table(self.drift.set_index("practice")[moved].round(4), "Longest runs first",
                       ["words"], 12),
                *(self.chart(row.practice, row.element).tree for row in strongest.itertuples()),
            ],
            "Heats against their grades": [
                _table(self.near.set_index("practice")[[*limits.split(), "outside", "in_guard"]],
                       "Limits with heats outside, or in a guard of two standard deviations"),
                _table(doubtful.set_index("heat")[judged], "Claims not kept or in doubt",
                       ["reasons"]),
            ],
            "What is left unused": [
                money,
                _table(self.unused.set_index("practice")[left].round(3),
                       "Mean above the internal minimum; what structure, corrosion, strength and "
                       "the customer allow is another question", (), 12),
            ],
        }  # fmt: skip

    @property
    def by_heat(self) -> pd.DataFrame:
        """Each heat with its contents and what was told of it, for one plain table."""
        told = self.families[["family", "sub", "structure", "doubt"]]
        odd = self.apart[["distance", "limit", "apart", "words"]]
        broken = self.refused.groupby("heat", sort=False)["claim"].agg(", ".join)
        whole = contents_as_written(self.heats).assign(practice=self.practice)
        whole = whole.join(told).join(odd)
        return whole.join(broken.rename("not kept"))

    def tables(self) -> dict[str, pd.DataFrame]:
        """Return everything as tables, for `write_tables`."""
        answer = pd.DataFrame({"in short": [self.lead, *self.lines]})
        flags = self.indices.long().pivot(index="heat", columns="relation", values="flag")
        return {
            "in short": answer,
            "reading report": self.report,
            "heats": contents_as_written(self.heats).assign(practice=self.practice),
            "families": self.families,
            "nearest grades": self.nearest,
            "indices": self.indices.values.join(flags.add_suffix(" flag")),
            "stand apart": self.apart,
            "scatter": self.spread,
            "drift": self.drift,
            "limits and guards": self.room,
            "claims": self.claims,
        }

    def __repr__(self) -> str:
        return "\n".join([self.lead, *(f"- {line}" for line in self.first_lines())])

    def _repr_html_(self) -> Html:
        folded = [details(title, *parts) for title, parts in self.sections().items()]
        return panel(items(self.first_lines()), *folded, small(_UNFIT), lead=self.lead)


def _count(number: int, what: str) -> str:
    return f"{number} {what}{'' if number == 1 else 's'}"


def _table(frame: pd.DataFrame, caption: str, wide: Iterable[str] = (), rows: int = _SHOWN) -> Html:
    return table(frame, caption, wide=wide, rows=rows)
