"""Write the tables of a second works, invented like the first: semicolons and decimal commas.

Bruchfelder Hütte does not exist. It melts two duplex steels and a ferritic one. Its heats stand in
`heats.csv` and are not written here; everything else that is a table is, the same bytes each time:

    python tests/other_works/make_files.py

Proof strengths were drawn at 20 C from the analysis (wt%) and the grain size d (mm):
    Rp0.2 = 240 + 950 N + 18 Mo + 12 Ni + 7 d^-1/2     MPa
with 8 MPa from heat to heat and 6 MPa from specimen to specimen. Prices and plant are those of the
other invented works with other figures; footprints, recoveries and charge analyses are the figures
of the trade that stand there with their source.
"""

import csv
import io
from pathlib import Path

import numpy as np

HERE = Path(__file__).parent
DEMO = HERE.parents[1] / "data"
SEED = 20260930
GRAIN_UM = {"BF22": 8, "BF23": 9, "BF17T": 26}
# Lines of the plant that differ from those of the other works.
PLANT = {
    "works.heat_size": 90, "caster.slab_thickness": 180, "caster.casting_speed": 1.1,
    "hot_mill.entry_thickness": 180, "hot_mill.force_max": 36, "hot_mill.torque_max": 3000,
    "anneal.line_speed_max": 80, "cold_mill.force_max": 10, "anneal.cooling_rate": 60,
    "hot_mill.finish_temperature_min": 900,
}  # fmt: skip
# Invented, crown/t of a contained tonne.
PRICES = {"Ni": 19500, "Mo": 46500, "Cr": 2650, "Mn": 1620, "Ti": 8400}


def german(value: object) -> str:
    """A number with a decimal comma."""
    return str(value).replace(".", ",")


def written(rows: list[list], comments: str = "") -> bytes:
    out = io.StringIO()
    csv.writer(out, delimiter=";", lineterminator="\r\n").writerows(rows)
    return (comments + out.getvalue()).encode("cp1252")


def heats() -> list[dict]:
    with open(HERE / "heats.csv", encoding="utf-8") as file:
        rows = list(csv.DictReader(file, delimiter=";"))
    return [{key: text.replace(",", ".") for key, text in row.items()} for row in rows]


def tests() -> list[list]:
    rng = np.random.RandomState(SEED)
    titles = "Kohlenstoff;Silizium;Mangan;Phosphor;Schwefel;Chrom;Nickel;Molybdän;N ppm;Kupfer"
    titles = titles.split(";")
    head = "Schmelze;Güte;Labor;Dicke mm;Korngröße µm;Prüftemperatur °C;Rp0,2 MPa;Rm MPa;A5 %"
    rows = [[*head.split(";"), *titles, "Bemerkung"]]
    for heat in heats():
        practice = heat["Güte"].split()[0]
        mean = 8 * rng.standard_normal()
        for _ in range(2 + rng.randint(2)):
            grain = max(5, round(GRAIN_UM[practice] + 2 * rng.standard_normal()))
            proof = 240 + 0.095 * float(heat["N ppm"]) + 18 * float(heat["Molybdän"])
            proof += 12 * float(heat["Nickel"]) + 7 * (grain / 1000) ** -0.5
            proof += mean + 6 * rng.standard_normal()
            tensile = 1.32 * proof + 60 + 8 * rng.standard_normal()
            elongation = 62 - 0.062 * proof + rng.standard_normal()
            test = [heat["Schmelze"], practice, "eigenes Labor", (1.5, 2, 3)[rng.randint(3)], grain]
            results = [20, f"{proof:.0f}", f"{tensile:.0f}", german(f"{elongation:.1f}")]
            rows.append([*map(german, test), *results, *(german(heat[t]) for t in titles),
                         "erfunden"])  # fmt: skip
    return rows


def plant() -> list[list]:
    with open(DEMO / "plant.csv", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    named = [(f"{row['step']}.{row['parameter']}", row) for row in rows]
    return [
        ["step", "parameter", "value", "unit", "note"],
        *(
            [row["step"], row["parameter"], german(PLANT.get(name, row["value"])), row["unit"],
             row["note"]]
            for name, row in named
        ),
    ]  # fmt: skip


def prices() -> list[list]:
    with open(DEMO / "element_prices.csv", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    for row in rows:
        row["price_crown_per_t"] = PRICES.get(row["element"], row["price_crown_per_t"])
    numbers = {"price_crown_per_t", "co2_t_per_t", "recovery"}
    return [
        list(rows[0]),
        *([german(text) if key in numbers else text for key, text in row.items()] for row in rows),
    ]


def retold(name: str, factor: float = 1.0) -> bytes:
    """A table of the other works with semicolons, decimal commas, and prices times a factor."""
    lines = (DEMO / name).read_text("utf-8").splitlines(keepends=True)
    comments = "".join(line for line in lines if line.startswith("#"))
    rows = list(csv.reader(line for line in lines if not line.startswith("#")))
    head = rows[0]
    for row in rows[1:]:
        for k, title in enumerate(head):
            if title == "price" and row[k]:
                row[k] = f"{factor * float(row[k]):.0f}"
            try:
                float(row[k])
            except ValueError:
                continue
            row[k] = german(row[k])
    return written(rows, comments)


def main() -> None:
    for name, content in {
        "pruefungen.csv": written(tests()),
        "anlage.csv": written(plant()),
        "preise.csv": written(prices()),
        "einsatz.csv": retold("prices.csv", 1.05),
        "ausbringen.csv": retold("recoveries.csv"),
    }.items():
        (HERE / name).write_bytes(content)


if __name__ == "__main__":
    main()
