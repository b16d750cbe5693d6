"""Hostile files of every kind, and a reader of its own that knows how they were written.

`heats_file` writes a table of heats in a random dialect, `spoil` damages it, and `plain_reading`
reads line by line what a person would read there. It shares no code with the library: where the
library reads a heat too, both must agree; where it does not, it must have said so.
"""

from __future__ import annotations

import io
import json
import random
import re
import zipfile
from dataclasses import dataclass, field

import openpyxl

ELEMENTS = ["C", "Si", "Mn", "P", "S", "Cr", "Ni", "Mo", "N", "Cu", "Nb", "Ti", "B"]
REACH = {"Cr": (16, 25), "Ni": (4, 14), "Mn": (0.5, 5), "Mo": (0.1, 3)}
IN_PPM = ("N", "B", "S")
NAMES = {
    "C": ["C", "%C", "Carbon", "Kohlenstoff", "C (LECO)", "Węgiel", "C_CS"],
    "Cr": ["Cr", "CR", "Chrom", "Chromium", "w(Cr)", "Cr_OES"],
    "Ni": ["Ni", "NI", "Nickel", "Níquel"],
    "N": ["N", "Stickstoff", "N ges.", "Ntot", "Azote"],
    "S": ["S", "Sulphur", "Schwefel", "S-CS"],
    "Nb": ["Nb", "Cb", "Niob"],
}
UNITS = {
    "wt%": ["", " %", " [wt%]", " (Gew.-%)", " [% (m/m)]"],
    "ppm": [" ppm", " [ppm]", " mg/kg"],
}
NOT_THERE = ["", "-", "n.d.", "k.A.", "tr", "n/a"]
NOTES = ["x", "a note", "Güte", "", '25" pipe', "=1+1", "page", "s"]


@dataclass
class Dialect:
    """How a file is written, and the truth: contents in wt% by heat."""

    delimiter: str
    point: str
    encoding: str
    end: str
    elements: list[str]
    ppm: set[str]
    truth: dict[str, dict[str, float]] = field(default_factory=dict)


def heats_file(rng: random.Random) -> tuple[bytes, Dialect]:
    delimiter = rng.choice([";", "\t", ",", "|", ";"])
    point = "." if delimiter == "," else rng.choice(".,")
    encoding = rng.choice(["utf-8", "utf-8-sig", "utf-16", "cp1252", "utf-16-le"])
    elements = ["Cr", *rng.sample([e for e in ELEMENTS if e != "Cr"], rng.randint(2, 8))]
    ppm = {e for e in elements if e in IN_PPM and rng.random() < 0.5}
    dialect = Dialect(delimiter, point, encoding, rng.choice(["\n", "\r\n", "\r"]), elements, ppm)
    beside = rng.sample(["grade", "note", "coil"], rng.randint(0, 2))
    columns = [*elements, *beside]
    rng.shuffle(columns)
    header = [
        rng.choice(["Heat", "heat no.", "Schmelze", "Charge"]),
        *(c if c in beside else _name(rng, c, c in ppm, encoding) for c in columns),
    ]
    lines = [delimiter.join(header)]
    for number in range(rng.randint(1, 12)):
        name, row, truth = f"H{number + 101}", [], {}
        for column in columns:
            if column in beside:
                cell = "1.4301" if column == "grade" else rng.choice(NOTES)
                if encoding == "cp1252":
                    cell = cell.encode("cp1252", "ignore").decode("cp1252")
                row.append(cell if delimiter not in cell else "x")
                continue
            cell, value = _content(rng, column, column in ppm, point)
            row.append(cell)
            if value is not None:
                truth[column] = value
        dialect.truth[name] = truth
        lines.append(delimiter.join([name, *row]))
    for _ in range(rng.choice([0, 0, 1, 2])):
        at = rng.randrange(len(lines) + 1)
        lines.insert(at, rng.choice(["", "# a comment", delimiter * (len(header) - 1)]))
    if rng.random() < 0.2:
        lines[:0] = ["Certificate of analysis", ""]
    if rng.random() < 0.2:
        lines += ["", "checked by the works laboratory"]
    text = dialect.end.join(lines) + rng.choice(["", dialect.end])
    return text.encode(encoding, "replace"), dialect


def _name(rng: random.Random, element: str, ppm: bool, encoding: str) -> str:
    name = rng.choice(NAMES.get(element, [element]))
    if encoding == "cp1252":
        name = name if name.encode("cp1252", "ignore").decode("cp1252") == name else element
    if name.startswith(("%", "w(")):
        return name if not ppm else f"{element} ppm"
    return name + rng.choice(UNITS["ppm" if ppm else "wt%"])


def _content(rng: random.Random, element: str, ppm: bool, point: str) -> tuple[str, float | None]:
    if rng.random() < 0.08:
        return rng.choice(NOT_THERE), None
    if ppm:
        figure = rng.randint(3, 2400) if element == "N" else rng.randint(3, 60)
        grouped = figure >= 1000 and rng.random() < 0.5
        other = "," if point == "." else "."
        text = f"{figure // 1000}{other}{figure % 1000:03d}" if grouped else str(figure)
        return text, figure * 1e-4
    low, high = REACH.get(element, (0.001, 0.6))
    places = rng.choice([2, 3, 3, 4]) if high > 1 else rng.choice([3, 4])
    text = f"{rng.uniform(low, high):.{places}f}"
    bound = rng.random() < 0.05
    # A bound stands at its upper end.
    return ("<" if bound else "") + text.replace(".", point), max(float(text), 10.0**-places)


def spoil(rng: random.Random, raw: bytes, dialect: Dialect) -> bytes:
    """Damage a file as people, programs and disks do; figures themselves stay as they are."""
    text = raw.decode(dialect.encoding, "replace")
    lines = re.split("\r\n|\r|\n", text)
    for _ in range(rng.randint(1, 4)):
        at = rng.randrange(len(lines))
        cells = lines[at].split(dialect.delimiter)
        where = rng.randrange(len(cells))
        kind = rng.randrange(12)
        if kind == 0:
            cells[where] = '"' + cells[where]
        elif kind == 1:
            cells[where] += '"'
        elif kind == 2:
            cells[where] = f'"{cells[where]}"'
        elif kind == 3 and len(cells) > 1:
            cells[where] = '"'
        elif kind == 4:
            cells = cells[:where]
        elif kind == 5:
            cells += [rng.choice(["", "", "x"])]
        elif kind == 6:
            cells[where] = f" {cells[where]} "
        elif kind == 7:
            lines.insert(at, rng.choice(["", "Mean", "page 2", '"', "total;;", "\t", "###"]))
            continue
        elif kind == 8:
            lines.insert(at, lines[rng.randrange(len(lines))])
            continue
        elif kind == 9:
            cells[where] += rng.choice(["\x00", "\x1b", "\u2028", "\x85", "\ufeff", "\u00a0"])
        elif kind == 10:
            cells[where] = rng.choice(["=1+1", "1e999", "9" * 400, "<>", "nan", "1.2.3", "True"])
        else:
            del lines[at]
            if not lines:
                return b""
            continue
        lines[at] = dialect.delimiter.join(cells)
    spoilt = dialect.end.join(lines).encode(dialect.encoding, "replace")
    if rng.random() < 0.05:
        spoilt = spoilt[: rng.randrange(len(spoilt) + 1)]
    if rng.random() < 0.03 and spoilt:
        at = rng.randrange(len(spoilt))
        spoilt = spoilt[:at] + bytes([rng.randrange(256)]) + spoilt[at + 1 :]
    return spoilt


def plain_reading(raw: bytes, dialect: Dialect, columns: list[str]) -> dict[str, list[dict]]:
    """Return what a person reads in each line that is whole: contents by heat, wt%.

    `columns` are the columns of the file by element, '' for others; the first is the heat's name.
    """
    text = raw.decode(dialect.encoding, "replace").lstrip("\ufeff")
    read: dict[str, list[dict]] = {}
    for line in re.split("\r\n|\r|\n", text):
        cells = line.split(dialect.delimiter)
        name = cells[0].strip().strip('"').strip()
        if not re.fullmatch(r"H\d+", name) or len(cells) != len(columns):
            continue
        contents = {}
        for element, cell in zip(columns[1:], cells[1:], strict=True):
            value = _value(cell, element in dialect.ppm, dialect.point) if element else None
            if value is not None:
                contents[element] = value
        read.setdefault(name, []).append(contents)
    return read


def _value(cell: str, ppm: bool, point: str) -> float | None:
    text = cell.strip()
    text = text[1:-1].strip() if len(text) > 1 and text[0] == text[-1] == '"' else text
    text = text.removeprefix("<").strip()
    other = "," if point == "." else "."
    if not re.fullmatch(rf"\d+(?:{re.escape(other)}\d{{3}})*(?:{re.escape(point)}\d+)?", text):
        return None
    plain = text.replace(other, "").replace(point, ".")
    if float(plain) == 0:
        return None
    return float(plain) * (1e-4 if ppm else 1.0)


def workbook_file(rng: random.Random) -> bytes:
    """A workbook of heats with hostile cells."""
    book = openpyxl.Workbook()
    sheet = book.active
    elements = ["C", "Cr", *rng.sample(["Ni", "Mo", "N", "Ti"], 2)]
    sheet.append(["heat", *elements, rng.choice(["note", "a\x00b".replace("\x00", ""), "date"])])
    for number in range(rng.randint(1, 6)):
        sheet.append([f"H{number + 101}", *(round(rng.uniform(0.01, 9), 3) for _ in elements), "x"])
    for _ in range(rng.randint(0, 3)):
        row, column = rng.randint(1, 9), rng.randint(1, 8)
        value = rng.choice(
            ["=1+1", "#N/A", True, "n.d.", "<0,005", -1, 1e300, "x" * 40, None, "ppm"]
        )
        sheet.cell(row, column).value = value
        sheet.cell(row, column).number_format = rng.choice(["General", "0.00%", '0" ppm"', "0.000"])
    if rng.random() < 0.2:
        sheet.merge_cells("B2:C3")
    out = io.BytesIO()
    book.save(out)
    raw = out.getvalue()
    if rng.random() < 0.3:
        raw = _edited(rng, raw)
    if rng.random() < 0.1:
        raw = raw[: rng.randrange(len(raw))]
    return raw


def _edited(rng: random.Random, raw: bytes) -> bytes:
    """Change the places and the values in the XML of a sheet."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(raw)) as old, zipfile.ZipFile(out, "w") as new:
        for name in old.namelist():
            content = old.read(name)
            if name.endswith("sheet1.xml"):
                here = rng.choice([b'r="1"', b'r="B2"', b'r="2"', b"<v>", b'r="A1"', b"</row>"])
                there = rng.choice(
                    [
                        b'r="2000000000"',
                        b'r="ZZZZZZZ2"',
                        b'r="XFD1048576"',
                        b"<v>9e999",
                        b"<row/>",
                        b"",
                    ]
                )
                content = content.replace(here, there, 1)
            new.writestr(name, content)
    return out.getvalue()


def json_file(rng: random.Random) -> bytes:
    """JSON of heats with hostile values, keys and shapes."""
    strange = [
        None,
        True,
        "18,1",
        "<0.01",
        [1],
        {"a": 1},
        1e308,
        -1,
        "x",
        "1.700",
        10**39,
        "\ud800",
    ]
    heats = []
    for number in range(rng.randint(1, 5)):
        heat: dict = {"heat": f"H{number + 101}", "Cr": 18.1, "C": 0.02}
        if rng.random() < 0.4:
            key = rng.choice(["heat", "Cr", "N ppm", "note", "\x00", "Fe", "Xx"])
            heat[key] = rng.choice(strange)
        heats.append(heat)
    content: object = (
        heats
        if rng.random() < 0.6
        else {"heats": heats, "limits": rng.choice([None, 5, {"max": {"Cr": 19}}, {"max": 5}, []])}
    )
    text = json.dumps(content)
    if rng.random() < 0.3:
        at = rng.randrange(len(text))
        text = text[:at] + rng.choice(["{", "]", '"Cr": 1, ', "[" * 60, "9" * 60, ""]) + text[at:]
    return text.encode(rng.choice(["utf-8", "utf-8-sig", "utf-16"]))


TABLES = {
    "prices": (
        ["element", "price_crown_per_t", "recovery", "date", "co2_t_per_t", "note"],
        [["Fe", "420", "0.96", "2026-10-01", "0", ""],
         ["Ni", "21000", "0.98", "2026-10-01", "14", ""],
         ["Cr", "2400.5", "0.95", "2026-10-01", "", "x"]],
    ),
    "plant": (
        ["step", "parameter", "value", "unit", "note"],
        [["caster", "pressure", "1.5", "atm", ""], ["eaf", "temperature_max", "1680", "C", "x"],
         ["scatter", "Cr", "0.12", "wt%", ""]],
    ),
    "scatter": (
        ["step", "parameter", "value"],
        [["scatter", "Cr", "0.12"], ["analysis", "Cr", "0.02"], ["scatter", "Ni", "0.08"]],
    ),
    "recoveries": (
        ["element", "eaf", "aod", "overall"],
        [["Fe", "0.97", "0.99", "0.9603"], ["Cr", "0.95", "", "0.93"], ["Ni", "1", "1", "0.98"]],
    ),
    "book": (
        ["material", "kind", "price", "currency_unit", "price_basis", "Cr", "Ni", "Fe"],
        [["scrap", "scrap", "1750.5", "crown/t", "per t gross", "18", "8.5", ""],
         ["ore ß", "alloy", "900", "crown/t", "per t gross", "52.25", "0.1", ""]],
    ),
    "tests": (
        ["heat", "Rp0.2", "C", "Cr", "Ni", "test_temperature_C"],
        [[f"T{k}", f"{240 + 3 * k}.5", f"0.0{k + 10}", f"{17 + k / 10:.2f}", "8.5", "20"]
         for k in range(30)],
    ),
}  # fmt: skip


def table_file(rng: random.Random, kind: str) -> bytes:
    """A table that users keep, in a random dialect and often damaged."""
    header, rows = TABLES[kind]
    delimiter = rng.choice([",", ";", "\t", "|"])
    point = "." if delimiter == "," else rng.choice(".,")
    written = [header, *([c.replace(".", point) if re.fullmatch(r"\d+\.\d+", c) else c for c in row]
                         for row in rows)]  # fmt: skip
    lines = [delimiter.join(row) for row in written]
    if rng.random() < 0.3:
        lines.insert(0, "# invented")
    encoding = rng.choice(["utf-8", "utf-8-sig", "utf-16", "cp1252"])
    text = "\n".join(lines) + "\n"
    raw = text.encode(encoding)
    if rng.random() < 0.6:
        dialect = Dialect(delimiter, point, encoding, "\n", [], set())
        raw = spoil(rng, raw, dialect)
    return raw
