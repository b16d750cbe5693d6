"""Write the demo data of this folder. Everything it writes is invented, and this is how.

Tarnwick Works does not exist. A demonstration needs data whose hidden law is known, so that a
reader can see what a tool should find in them and what it cannot find. This script states the
law and draws the data from it. Run it again and every file comes out byte for byte the same:

    python make_demo.py            # into the folder of the script
    python make_demo.py elsewhere  # or into another folder

1. Heats. Each practice of the melt shop has a mean and a standard deviation per element and one
   correlation matrix for all (`CORRELATION`). A heat outside the limits of its grade is drawn
   again: the works would have sold it as something else. Traces are the absolute value of a
   normal draw, printed as a bound where they are below the reporting limit.
2. Manganese and nitrogen. The works brings its nitrogen in with manganese alloys, so the means lie
   on N = 0.025 + 0.0205 Mn, and inside a practice the two scatter together. No regression on these
   heats can tell what Mn does from what N does, although the laws below do tell them apart.
3. Tensile tests of the austenitic heats, at 20 C, with the reported analysis (wt%) and the reported
   grain size d (mm):
       Rp0.2 = 175 + 330 C + 500 N + 22 Si + 5 Mn + 6 Mo + 8 d^-1/2     MPa
       Rm    = 640 + 900 C + 700 N - 12 Ni + 12 Mo                      MPa
       A     = 78 - 52 Rp0.2/Rm + 1.0 (thickness - 2 mm)                %
   to which every heat adds its own effect, every laboratory its bias, every specimen its scatter
   (`SPREAD`, `LABORATORIES`). At T the strengths are multiplied by 0.48 + 0.52 exp(-(T-20)/160)
   and 0.70 + 0.30 exp(-(T-20)/120).
4. Pitting. On the works' own ferric-chloride scale, not that of any standard:
       T = -39 + 2.6 (Cr + 3.1 Mo + 22 N - 0.45 Mn)                      C

The carbon-footprint factors, alloy analyses and recoveries are the exception: they are figures of
the trade, carry their status and source in the file, and were not drawn here. That the works
buys these materials and reaches these recoveries is invented.
"""

import csv
import datetime as dt
import io
import re
import sys
import zipfile
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
from openpyxl import Workbook

SEED = 20261001
DATE = "2026-10-01"
INVENTED = "invented"


def columns(text: str) -> list[str]:
    """Read the names of the columns from a line of text."""
    return text.split()


# ---------------------------------------------------------------------------- heats

ANALYSIS = ["C", "Si", "Mn", "P", "S", "Cr", "Ni", "Mo", "N", "Cu"]
DRAWN = [*ANALYSIS, "V", "Co"]
HEAT_COLUMNS = [*ANALYSIS, "Nb", "Ti", "Al", "V", "Co", "B"]
DECIMALS = dict(C=3, Si=2, Mn=2, P=3, S=4, Cr=2, Ni=2, Mo=2, N=3, Cu=2, V=3, Co=3)
DECIMALS |= dict(Nb=3, Ti=3, Al=3, B=4)

# Standard deviation from heat to heat, wt%; a practice below may state its own.
SD = dict(C=0.004, Si=0.04, Mn=0.10, P=0.002, S=0.0004, Cr=0.12, Ni=0.08, Mo=0.04, N=0.006)
SD |= dict(Cu=0.05, V=0.010, Co=0.03)

CORRELATION = {
    ("Mn", "N"): 0.60,  # nitrogen comes with the manganese alloys
    ("Cr", "N"): 0.35,  # chromium holds nitrogen in the melt
    ("Ni", "Cu"): 0.40,  # both come with the scrap
    ("Ni", "Co"): 0.50,
    ("Cu", "Mo"): 0.30,
    ("Cu", "Co"): 0.35,
}

# Kept by every practice unless it states its own.
LIMITS = dict(S=(0.0005, 0.015), P=(0, 0.045), Cu=(0.05, 0.75))

# One practice: works name, heats, means, own standard deviations, limits kept.
PRACTICES = [
    dict(
        grade="TW-188",
        heats=15,
        mean=dict(C=0.024, Si=0.45, Mn=1.40, P=0.031, S=0.0016, Cr=18.12, Ni=8.19, Mo=0.26, N=0.056)
        | dict(Cu=0.39, V=0.075, Co=0.19),
        sd={},
        limits=dict(C=(0.02, 0.030), Cr=(17.5, 19.5), Ni=(8.0, 10.0), N=(0.04, 0.10)),
    ),
    dict(
        grade="TW-188",
        heats=6,
        mean=dict(C=0.042, Si=0.44, Mn=1.35, P=0.031, S=0.0015, Cr=18.12, Ni=8.12, Mo=0.25, N=0.053)
        | dict(Cu=0.41, V=0.075, Co=0.18),
        sd={},
        limits=dict(C=(0.031, 0.05), Cr=(17.5, 19.5), Ni=(8.0, 10.5), N=(0.04, 0.10)),
    ),
    dict(
        grade="TW-1812M",
        heats=12,
        mean=dict(C=0.021, Si=0.47, Mn=1.30, P=0.031, S=0.0014, Cr=17.08, Ni=10.19, Mo=2.11)
        | dict(N=0.052, Cu=0.37, V=0.070, Co=0.21),
        sd={},
        limits=dict(C=(0, 0.030), Cr=(16.5, 18.0), Ni=(10.0, 13.0), Mo=(2.0, 2.5), N=(0.03, 0.10)),
    ),
    dict(
        grade="TW-17",
        heats=9,
        mean=dict(C=0.045, Si=0.35, Mn=0.45, P=0.025, S=0.0016, Cr=16.35, Ni=0.25, Mo=0.06, N=0.033)
        | dict(Cu=0.12, V=0.085, Co=0.03),
        sd=dict(C=0.006, Ni=0.04, Mo=0.02, N=0.004, Cu=0.03, Co=0.008, Mn=0.05),
        limits=dict(C=(0, 0.08), Cr=(16.0, 18.0), Ni=(0, 0.75), Mo=(0.01, 0.2), N=(0.02, 0.05)),
    ),
    dict(
        grade="TW-D21",
        heats=7,
        mean=dict(C=0.025, Si=0.69, Mn=5.00, P=0.024, S=0.0006, Cr=21.52, Ni=1.55, Mo=0.31, N=0.221)
        | dict(Cu=0.31, V=0.090, Co=0.05),
        sd=dict(Ni=0.05, Cu=0.04, Co=0.010, S=0.0003),
        limits=dict(C=(0, 0.040), Cr=(21.0, 22.0), Ni=(1.35, 1.70), Mo=(0.1, 0.8), N=(0.20, 0.25))
        | dict(S=(0, 0.015)),
    ),
    dict(
        grade="TW-201",
        heats=11,
        mean=dict(C=0.070, Si=0.46, Mn=6.75, P=0.041, S=0.0015, Cr=16.92, Ni=4.22, Mo=0.13, N=0.163)
        | dict(Cu=0.78, V=0.080, Co=0.10),
        sd=dict(C=0.008, Mn=0.25, P=0.0035, Ni=0.10, N=0.009, Cu=0.20, Co=0.02),
        limits=dict(C=(0, 0.15), Mn=(5.5, 7.5), Cr=(16.0, 18.0), Ni=(3.5, 5.5), N=(0.05, 0.25))
        | dict(P=(0, 0.060), Cu=(0.3, 1.3)),
    ),
]

# Traces: spread of the normal draw whose absolute value is the content, and the reporting limit.
TRACES = dict(Nb=(0.010, 0.005), Ti=(0.006, 0.005), Al=(0.006, 0.002), B=(0.0012, 0.0005))

# Rows of the finished table (by date) that are reported awkwardly, as certificates are.
PPM_ROWS = (7, 24, 39, 52)  # nitrogen as a whole number of ppm
COMMA_ROW = 17  # bought-in slab, typed over with decimal commas
DUPLICATE_ROW = 33  # a product analysis filed under the name of the heat
NAMELESS_ROW = 46  # label lost
LOW_MO_ROW = "TW-1812M"  # the last heat of this grade misses 2.00 % Mo by a hundredth


def claims(grade: str, heat: dict) -> str:
    """Say which designations the heat is certified to, after the works' own name."""
    if grade == "TW-188":
        return "1.4301/1.4307 - 304/304L" if heat["C"] <= 0.030 else "1.4301 - 304"
    if grade == "TW-201":  # the European limit of phosphorus is the tighter one
        return "1.4372 - 201/S20100" if heat["P"] <= 0.045 else "201/S20100"
    return {
        "TW-1812M": "1.4404 / 316L / S31603",
        "TW-17": "1.4016 - 430",
        "TW-D21": "1.4162 / S32101",
    }[grade]


def draw_heats(rng: np.random.RandomState) -> list[dict]:
    """Draw the heats: one dict a heat, numbers rounded as reported, in the order of casting."""
    correlation = np.eye(len(DRAWN))
    for (a, b), r in CORRELATION.items():
        i, j = DRAWN.index(a), DRAWN.index(b)
        correlation[i, j] = correlation[j, i] = r
    root = np.linalg.cholesky(correlation)

    heats = []
    for practice in PRACTICES:
        mean, sd = practice["mean"], SD | practice["sd"]
        while sum(h["practice"] is practice for h in heats) < practice["heats"]:
            deviation = root @ rng.standard_normal(len(DRAWN))
            heat = {
                el: max(round(mean[el] + sd[el] * x, DECIMALS[el]), 10.0 ** -DECIMALS[el])
                for el, x in zip(DRAWN, deviation.tolist(), strict=True)
            }
            limits = LIMITS | practice["limits"]
            if all(low <= heat[el] <= high for el, (low, high) in limits.items()):
                for el, (spread, _) in TRACES.items():
                    heat[el] = round(abs(rng.standard_normal()) * spread, DECIMALS[el])
                heats.append(heat | {"practice": practice, "works_grade": practice["grade"]})

    days = np.sort(rng.permutation(940)[: len(heats)]).tolist()
    order = rng.permutation(len(heats)).tolist()
    heats = [heats[i] for i in order]
    for heat, day in zip(heats, days, strict=True):
        date = dt.date(2024, 1, 15) + dt.timedelta(days=day)
        number = 3 * date.timetuple().tm_yday - rng.randint(3)
        heat["heat"] = f"H{date:%y}-{number:04d}"
        heat["date"] = date.isoformat()
        heat["note"] = INVENTED
    last = max((h for h in heats if h["works_grade"] == LOW_MO_ROW), key=lambda h: h["date"])
    last["Mo"] = 1.99
    last["note"] = f"{INVENTED}; molybdenum under the minimum, awaiting decision"
    for heat in heats:
        heat["grade"] = f"{heat['works_grade']} {claims(heat['works_grade'], heat)}"
    return heats


def printed(heat: dict, el: str) -> str:
    """Print one content as this works' certificates do."""
    value, year = heat[el], heat["date"][:4]
    if el == "Co" and year == "2024":  # asked for by customers since 2025
        return ""
    if el in ("Nb", "B") and heat["works_grade"] == "TW-17" and year != "2026":
        return ""
    if el in TRACES and value < TRACES[el][1]:
        return "n.d." if el == "B" and year == "2024" else f"<{TRACES[el][1]}"
    if el == "S" and value < 0.0005:
        return "<0.0005"
    return f"{value:.{DECIMALS[el]}f}"


def heat_rows(heats: list[dict], rng: np.random.RandomState) -> list[list[str]]:
    """Lay the heats out as the rows of heats.csv, awkward ones included."""
    rows = [["heat", "grade", "date", *HEAT_COLUMNS, "note"]]
    for i, heat in enumerate(heats):
        cells = {el: printed(heat, el) for el in HEAT_COLUMNS}
        name, note = heat["heat"], heat["note"]
        if i in PPM_ROWS:
            cells["N"] = f"{heat['N'] * 1e4:.0f}"
            note = f"{INVENTED}; nitrogen in ppm"
        if i == COMMA_ROW:
            cells = {el: re.sub(r"(?<=\d)\.", ",", text) for el, text in cells.items()}
            note = f"{INVENTED}; bought-in slab, certificate typed over"
        if i == NAMELESS_ROW:
            name, note = "", f"{INVENTED}; label lost"
        rows.append([name, heat["grade"], heat["date"], *cells.values(), note])
        if i == DUPLICATE_ROW:
            again = dict(heat)
            for el in DRAWN:
                error = ANALYSIS_SD.get(el, 0.0) * rng.standard_normal()
                again[el] = round(max(heat[el] + error, 0.001), DECIMALS[el])
            cells = [printed(again, el) for el in HEAT_COLUMNS]
            note = f"{INVENTED}; product analysis filed under the heat's name"
            rows.append([name, heat["grade"], heat["date"], *cells, note])
    return rows


# ------------------------------------------------------------------------ lab tests

# Bias of each laboratory: proof strength MPa, tensile strength MPa, pitting temperature C.
LABORATORIES = {
    "works laboratory": (0.0, 0.0, 0.0),
    "laboratory B": (6.0, 4.0, 1.0),
    "laboratory C": (-4.0, 3.0, -1.5),
}
# Standard deviation of the heat's own effect and of one specimen.
SPREAD = dict(proof=(9.0, 5.0), tensile=(10.0, 5.0), elongation=(1.0, 1.5), pitting=(1.2, 1.5))
LAB_COLUMNS = """
heat grade laboratory thickness_mm grain_size_um test_temperature_C proof_strength_MPa
tensile_strength_MPa elongation_pct pitting_temperature_C
"""
GRAIN_UM = {"TW-188": 24.0, "TW-1812M": 28.0, "TW-201": 18.0}
# Proof strength at 20 C, MPa: constant, per wt%, and per mm^-1/2 of the grain size.
PROOF = dict(C=330, N=500, Si=22, Mn=5, Mo=6)
PROOF_CONSTANT, PROOF_GRAIN = 175, 8


def proof_strength(x: dict, d_mm: float) -> float:
    """Rp0.2 at 20 C, MPa: the law hidden in lab_tests.csv."""
    return PROOF_CONSTANT + sum(k * x[el] for el, k in PROOF.items()) + PROOF_GRAIN * d_mm**-0.5


def law_rows() -> list[list]:
    """Write the law of the proof strength out, term by term, the grain size in micrometres."""
    rows = [["term", "law", "unit", "note"], ["constant", PROOF_CONSTANT, "MPa", INVENTED]]
    rows += [[el, k, "MPa per wt%", INVENTED] for el, k in PROOF.items()]
    grain = f"{PROOF_GRAIN * 1000**0.5:.2f}"
    return [*rows, ["grain_size_um^-0.5", grain, "MPa um^0.5", INVENTED]]


def tensile_strength(x: dict) -> float:
    """Rm at 20 C, MPa."""
    return 640 + 900 * x["C"] + 700 * x["N"] - 12 * x["Ni"] + 12 * x["Mo"]


def pitting_temperature(x: dict) -> float:
    """Pitting temperature on the works' own scale, C."""
    return -39 + 2.6 * (x["Cr"] + 3.1 * x["Mo"] + 22 * x["N"] - 0.45 * x["Mn"])


def lab_rows(heats: list[dict], rng: np.random.RandomState) -> list[list[str]]:
    """Draw the tests: two to four specimens a heat, some hot, some with a pitting test."""
    rows = [[*columns(LAB_COLUMNS), *ANALYSIS, "note"]]
    names = list(LABORATORIES)
    tested = [
        heat
        for i, heat in enumerate(heats)
        if heat["works_grade"] in GRAIN_UM
        and heat["Mo"] != 1.99
        and i not in (DUPLICATE_ROW, NAMELESS_ROW)
    ]
    for n, heat in enumerate(tested):
        own = {key: sd * rng.standard_normal() for key, (sd, _) in SPREAD.items()}
        temperatures = [20] * (2 + rng.randint(3)) + ([100, 200] if n % 6 == 0 else [])
        for k, temperature in enumerate(temperatures):
            lab = names[rng.randint(3)]
            bias = LABORATORIES[lab]
            noise = {key: own[key] + sd * rng.standard_normal() for key, (_, sd) in SPREAD.items()}
            thickness = (0.8, 1.0, 1.5, 2.0, 3.0, 4.0)[rng.randint(6)]
            coarser = 2 * (thickness - 2) + 2.5 * rng.standard_normal()
            grain = max(round(GRAIN_UM[heat["works_grade"]] + coarser), 8)
            proof = proof_strength(heat, grain / 1000) + bias[0] + noise["proof"]
            tensile = tensile_strength(heat) + bias[1] + noise["tensile"]
            elongation = 78 - 52 * proof / tensile + 1.0 * (thickness - 2) + noise["elongation"]
            above = temperature - 20
            proof *= 0.48 + 0.52 * np.exp(-above / 160)
            tensile *= 0.70 + 0.30 * np.exp(-above / 120)
            pitting = ""
            if k == 0 and n % 2 == 0:
                pitting = f"{pitting_temperature(heat) + bias[2] + noise['pitting']:.0f}"
            results = [f"{proof:.0f}", f"{tensile:.0f}", f"{elongation:.1f}", pitting]
            analysis = [f"{heat[el]:.{DECIMALS[el]}f}" for el in ANALYSIS]
            test = [heat["heat"], heat["works_grade"], lab, thickness, grain, temperature]
            rows.append([*test, *results, *analysis, INVENTED])
    return rows


# --------------------------------------------------------------------- certificates
# Typed by hand, awkward in the ways real ones are; what they mean is in tests/data_truth.py.

SEMICOLON = """\
Schmelze;Güte;Erzeugnis;C;Si;Mn;P;S;Cr;Ni;Mo;N ppm;Cb;Cu;Ti;note
H26-0512;TW-188 1.4301/1.4307 - 304/304L;Kaltband 2,0 × 1250 mm;0,021;0,43;1,38;0,031;0,0012;\
18,12;8,21;0,27;548;0,008;0,38;<0,005;invented (erfunden)
H26-0513;TW-1812M 1.4404 / 316L / S31603;Kaltband 1,5 × 1250 mm;0,019;0,47;1,29;0,030;0,0009;\
17,06;10,18;2,11;486;<0,005;0,36;0,006;invented (erfunden)
H26-0514;TW-17 1.4016 - 430;Kaltband 0,8 × 1250 mm;0,044;0,33;0,46;0,024;0,0017;\
16,31;0,24;0,05;312;;0,11;n.d.;invented (erfunden)
"""

MULTIPLIER = """\
Heat,C,Si,Mn,P,S,Cr,Ni,Mo,N,Cu,B,note
,x10^-3,x10^-2,x10^-2,x10^-3,x10^-4,x10^-2,x10^-2,x10^-2,x10^-3,x10^-2,x10^-4,
H26-0601,24,68,502,23,8,2148,156,29,219,31,21,invented
H26-0602,27,71,497,25,11,2155,152,33,224,28,19,invented
H26-0603,22,66,508,24,7,2139,161,30,216,34,<5,invented
"""

TABS = """\
Heat no.|Grade|C|Si|Mn|P|S|Cr|Ni|Mo|N|Cu|Al tot|Ti|Nb|V|B ppm|note
H26-0805|TW-201 1.4372 - 201/S20100|0.068|0.47|6.72|0.039|0.0015|16.92|4.24|0.12|0.164|0.81|0.004\
|-|0.00|0.07|18|invented
H26-0806|TW-201 201/S20100|0.073|0.44|6.95|0.047|0.0013|16.84|4.17|0.14|0.171|0.96|-|-|0.01|0.08\
|23|invented
"""

TRANSPOSED = """\
element,H26-0901,H26-0902,H26-0903
grade,TW-188 1.4301 - 304,TW-17 1.4016 - 430,TW-D21 1.4162 / S32101
C,0.043,0.047,0.026
Si,0.42,0.36,0.70
Mn,1.33,0.43,4.97
P,0.032,0.025,0.023
S,0.0016,0.0014,<0.001
Cr,18.21,16.28,21.57
Ni,8.09,0.22,1.54
Mo,0.28,0.04,0.30
N,0.052,0.034,0.223
Cu,0.44,0.13,0.32
Ti,<0.005,,0.006
note,invented,invented,invented
"""

HOSTILE = """\
heat,grade,C,Si,Mn,P,S,Cr,Ni,Mo,N,Cu,note
<b>H1</b>,TW-188 1.4301/1.4307 - 304/304L,0.024,0.45,1.41,0.030,0.0012,18.10,8.17,0.25,0.057,0.40,\
invented; a name that must stay text
=cmd|' /C calc'!A0,TW-188 1.4301/1.4307 - 304/304L,0.022,0.43,1.36,0.031,0.0014,18.22,8.24,0.27,\
0.055,0.37,invented; a name that must not become a formula
+1,<img src=x onerror=alert(1)>,0.025,0.48,1.44,0.029,0.0013,18.05,8.13,0.23,0.058,0.42,\
invented; a name that must not become a number
@x,TW-188 1.4301/1.4307 - 304/304L,0.026,0.44,1.39,0.032,0.0011,18.14,8.20,0.26,0.056,0.38,invented
"""

PASTED = """\
# invented: lines pasted from an e-mail, for demonstration only
H26-1001: C 0,021 Si 0,45 Mn 1,36 P 0,030 S 0,0012 Cr 18,15 Ni 8,19 Mo 0,24 N 0,056 Cu 0,41
H26-1002: C 0,023 Si 0,41 Mn 1,42 P 0,032 S 0,0010 Cr 18,07 Ni 8,16 Mo 0,29 N 512 ppm Cu 0,36 \
Ti <0,005

Heat          C     Si    Mn     P      S       Cr     Ni    Mo    N      Cu
H26-1003    0.066  0.48  6.61  0.038  0.0014  16.97   4.31  0.11  0.159  0.74
H26-1004    0.020  0.46  1.27  0.031  0.0009  17.11  10.15  2.09  0.049  n.d.
"""

MINMAX_TITLE = """\
Tarnwick Works: inspection certificate 3.1 to EN 10204 (invented, for demonstration only)
Customer: Plumebrook Dairy    Order: PD-0042
Grade: TW-1812M 1.4404 / 316L / S31603    to EN 10088-2 / ASTM A240
Product: cold rolled strip, finish 2B, 1.50 x 1250 mm

"""
MINMAX = """\
Heat|Analysis|C|Si|Mn|P|S|Cr|Ni|Mo|N|Cu|Nb+Ta|Ti|PREN|Rp0.2|Rm|A
|min||||||16.5|10.0|2.0||||||240|530|40
|max|.030|.75|2.0|.045|.015|18.0|13.0|2.5|.10||||||680|
H26-0701|heat|.020|.46|1.28|.031|.0009|17.08|10.21|2.11|.048|.36|LT 0.01|tr|24.8|||
H26-0701|product|.022|.45|1.30|.032|.0010|17.02|10.18|2.09|.050|.36|LT 0.01|tr|24.7|287|604|54
H26-0702|heat|.018|.49|1.31|.029|.0011|17.15|10.16|2.13|.051|.39|.012|LT 0.005|25.0|||
H26-0702|product|.019|.48|1.29|.030|.0012|17.19|10.20|2.12|.049|.38|.011|LT 0.005|25.0|291|611|53
"""
MINMAX_FOOT = "Analyses and A in %, Rp0.2 and Rm in MPa. PREN is computed, not analysed."


def cell(text: str) -> str | float | None:
    """Give a spreadsheet cell: empty, a number, or the text."""
    try:
        return float(text) if text else None
    except ValueError:
        return text


def minmax_workbook() -> bytes:
    """The certificate with min, max, heat and product rows, the same bytes at every run."""
    book = Workbook()
    sheet = book.active
    sheet.title = "certificate"
    for line in MINMAX_TITLE.splitlines():
        sheet.append([line])
    for line in MINMAX.splitlines():
        sheet.append([cell(text) for text in line.split("|")])
    sheet.append([])
    sheet.append([MINMAX_FOOT])
    book.properties.creator = "Tarnwick Works (invented)"
    book.properties.created = dt.datetime(2026, 10, 1)
    raw = io.BytesIO()
    book.save(raw)

    # openpyxl writes the time of saving, its own version and whatever its XML writer likes; zlib is
    # not the same everywhere either. Canonical XML, stored, with one date, is.
    out = io.BytesIO()
    with zipfile.ZipFile(raw) as old, zipfile.ZipFile(out, "w", zipfile.ZIP_STORED) as new:
        for name in sorted(old.namelist(), key=lambda n: (n != "[Content_Types].xml", n)):
            text = ElementTree.canonicalize(old.read(name).decode())
            text = re.sub(r"(<dcterms:modified[^>]*>)[^<]*", r"\g<1>2026-10-01T00:00:00Z", text)
            text = re.sub(r"<(Application|AppVersion)>.*?</\1>", "", text)
            info = zipfile.ZipInfo(name, date_time=(2026, 10, 1, 0, 0, 0))
            info.create_system = 3
            info.external_attr = 0o644 << 16
            new.writestr(info, text.encode())
    return out.getvalue()


# --------------------------------------------------------------- prices and recovery

CURRENCY = "crown/t"
CONTENTS = [*ANALYSIS, "Nb", "Ti", "Al", "V", "Sn", "Fe"]
PRICE_COLUMNS = """
material kind price currency_unit price_basis price_element co2_t_per_t co2_status co2_source
stock_max_kg_per_t
"""
RECOVERY_COLUMNS = "element eaf aod ladle overall overall_basis status source note"
ELEMENT_COLUMNS = """
element price_crown_per_t co2_t_per_t recovery basis source_material date co2_status co2_source
note
"""

_WEI = "Wei et al 2020 Energies 13 5664"
_LCI = "IMOA LCI 2024"
_TRADE = "trade figure, not read"
# CO2 factors, t per t of material: value, status, source and how it was taken.
CO2 = {
    "scrap": (0.0, "memory", "cut-off rule; range 0-0.1 for collection and sorting"),
    "hc": (5.5, "memory", f"{_TRADE}; range 1.8-7 per t alloy"),
    "lc": (12.0, "memory", f"{_TRADE}; mid of 9-15 per t alloy"),
    "ni": (13.986, "verified", f"{_WEI}; 14 (13-14) per t Ni x 0.999"),
    "feni": (4.5, "conflicting", f"{_WEI}; 18 per t Ni x 0.25, an older industry figure is 45"),
    "npi": (7.59, "verified", f"{_WEI}; 69 per t Ni x 0.11"),
    "nio": (30.4, "verified", f"{_WEI}; 40 per t Ni x 0.76"),
    "femo": (7.41, "verified", f"{_LCI}; per t product of about 67 Mo"),
    "moo": (3.79, "verified", f"{_LCI}; powder, per t product of about 60 Mo"),
    "mn": (6.0, "memory", "industry study, 2010; 3.51-6.0 per t alloy"),
    "emn": (22.5, "memory", f"{_TRADE}; mid of 20-25"),
    "fesi": (8.5, "memory", f"{_TRADE}; mid of 5-12, grid dependent"),
    "cu": (3.5, "memory", f"{_TRADE}; mid of 3-4"),
    "fenb": (7.5, "memory", f"{_TRADE}; mid of 5-10 per t alloy"),
    "feti": (21.0, "memory", f"{_TRADE}; mid of 20-40 per t Ti x 0.70"),
    "al": (12.5, "memory", f"{_TRADE}; mid of 8-17"),
    "lime": (1.1, "memory", f"{_TRADE}"),
    "none": ("", "not known", "no factor at hand"),
}

# material; kind; price; contained element ('' = gross); CO2 key; most in stock, kg per t of heat;
# C Si Mn P S Cr Ni Mo N Cu Nb Ti Al V Sn Fe (last empty: iron is the balance); status; note
PRICES = """\
scrap_304_solids|scrap|1750||scrap|650|.05 .5 1.3 .032 .015 18 8 .35 .05 .4 0 0 0 - .01 -|memory|
scrap_316|scrap|2650||scrap|120|.04 .5 1.3 .032 .012 16.8 10.2 2.1 .05 .4 0 0 0 - .01 -|memory|
scrap_430|scrap|620||scrap|200|.05 .4 .5 .028 .01 16.4 .3 .1 .03 .15 0 0 0 - .008 -|memory|
scrap_409_441|scrap|560||scrap|100|.02 .5 .4 .026 .005 12.5 .2 .05 .015 .1 .15 .2 0 - .008 -|memory|
scrap_low_ni_crmn|scrap|1020||scrap|150|.08 .5 8 .05 .008 15.5 2.5 .1 .15 1.2 0 0 0 - .01 -|memory|\
watch P and Cu
scrap_2205|scrap|2320||scrap|40|.025 .5 1.6 .028 .003 22.2 5.4 3 .17 .25 0 0 0 - .008 -|memory|
scrap_turnings_303|scrap|1300||scrap|30|.06 .6 1.6 .035 .25 17.6 8.3 .4 .05 .5 0 0 0 - .012 -\
|memory|bears sulphur, keep apart
scrap_mild|scrap|420||scrap|900|.1 .2 .5 .02 .03 .1 .1 .02 .007 .25 0 0 .02 - .015 -|memory|
charge_chrome|ferro-alloy|2250|Cr|hc|400|7 3.5 .3 .022 .04 52 .3 0 .03 0 0 .1 0 - 0 -|memory|
hc_fecr|ferro-alloy|2400|Cr|hc|400|7.5 1.2 .3 .025 .035 64 .2 0 .03 0 0 .1 0 - 0 -|memory|
lc_fecr_010|ferro-alloy|3700|Cr|lc|60|.08 1 .3 .025 .01 66 0 0 .06 0 0 0 .1 - 0 -|memory|
lc_fecr_nitrided|ferro-alloy|4100|Cr|lc|40|.06 1 .3 .025 .01 62 0 0 5 0 0 0 0 - 0 -|memory|\
factor of the alloy before nitriding
ni_cathode_class1|metal|21000|Ni|ni|130|.005 0 0 .001 .002 0 99.9 0 0 0 0 0 0 - 0 0|memory|
feni_25|ferro-alloy|20400|Ni|feni|250|1.5 1 0 .01 .05 .6 25 0 0 0 0 0 0 - 0 -|verified|
npi_high11|ferro-alloy|18600|Ni|npi|300|3 2 .2 .035 .06 1.5 11 0 0 0 0 0 0 - 0 -|memory|
nio_sinter|metal|20700|Ni|nio|60|0 0 0 .002 .003 0 76 0 0 0 0 0 0 - 0 0|memory|the rest is oxygen
femo_67|ferro-alloy|42000|Mo|femo|40|.05 .8 0 .04 .08 0 0 67 0 .4 0 0 0 - .01 -|verified|
mo_oxide_tech|metal|39500|Mo|moo|40|0 .5 0 .02 .05 0 0 60 0 .4 0 0 0 - 0 0|verified|\
the rest is oxygen, needs a reductant
hc_femn|ferro-alloy|1155||mn|90|6.8 .8 77 .2 .015 0 0 0 0 0 0 0 0 - 0 -|memory|high in P
lc_femn|ferro-alloy|1900||mn|90|.1 1 83 .15 .01 0 0 0 0 0 0 0 0 - 0 -|memory|
simn|ferro-alloy|1240||mn|60|1.7 17 66 .15 .02 0 0 0 0 0 0 0 0 - 0 -|memory|
mn_electrolytic|metal|2300||emn|80|.02 .01 99.7 .002 .03 0 0 0 .003 0 0 0 0 - 0 .1|memory|
femn_nitrided|ferro-alloy|2700||mn|40|.5 .8 78 .15 .01 0 0 0 5 0 0 0 0 - 0 -|memory|\
factor of the alloy before nitriding
fesi75|ferro-alloy|1350||fesi|40|.1 75 .2 .03 .01 .1 0 0 0 0 0 .1 1.3 - 0 -|memory|
cu_cathode_scrap|metal|9500|Cu|cu|40|0 0 0 0 .005 0 0 0 0 99.5 0 0 0 - .02 0|memory|
fenb65|ferro-alloy|45000|Nb|fenb|15|.15 2.5 .5 .15 .05 0 0 0 0 0 65 .4 1 - .1 -|memory|
feti70|ferro-alloy|9000|Ti|feti|15|.15 .3 .3 .02 .02 .3 0 0 .4 0 0 70 4 - 0 -|memory|
fev80|ferro-alloy|31000|V|none|5|.2 1.2 .3 .05 .03 0 0 0 0 0 0 0 1.5 80 0 -|memory|
al_deox|metal|2650||al|10|0 .3 .1 0 0 0 0 0 0 .3 0 0 98 - 0 .5|memory|
nitrogen|gas|400||none|40|0 0 0 0 0 0 0 0 100 0 0 0 0 0 0 0|invented|liquid, delivered
argon|gas|900||none|60|0 0 0 0 0 0 0 0 0 0 0 0 0 0 0 0|invented|liquid, delivered
oxygen|gas|120||none|80|0 0 0 0 0 0 0 0 0 0 0 0 0 0 0 0|invented|over the fence
lime|flux|150||lime|120|0 0 0 0 0 0 0 0 0 0 0 0 0 0 0 0|invented|counted as metal-free
dolomitic_lime|slag former|170||none|60|0 0 0 0 0 0 0 0 0 0 0 0 0 0 0 0|invented|metal-free
fluorspar|slag former|480||none|15|0 0 0 0 0 0 0 0 0 0 0 0 0 0 0 0|invented|metal-free
"""
PRICES_HEADER = (
    f"# invented prices and footprints, not market data; price date {DATE}; money: crowns, which"
    " exist nowhere; only the columns co2_*, and the contents where analysis_status is not"
    " 'invented', are figures of the trade"
)

_RANGE = "mid of the trade range"
# Fractions kept: eaf, aod, ladle, overall; what overall means; note.
RECOVERIES = """\
Fe|.975|.99|1|.9653|eaf x aod|
C|||1|1|ladle|partly burnt in the furnace, blown to target in the converter
Si|.45||.90|.90|ladle|as reductant 0.85-0.90 is useful
Mn|.885|.90|.965|.90|aod|above 5 % Mn a further 3-8 % is lost; add after decarburisation
P|1|1|1|1|eaf x aod|no practical removal while chromium is held
S|.90|.125||.1125|eaf x aod|the converter removes 80-95 %
Cr|.955|.9825|.985|.96|as quoted overall|overall 0.95-0.97 is quoted; the product of eaf and aod \
is 0.938
Ni|.9875|.9975|.995|.985|eaf x aod|dust and skull only
Mo|.98|.995|.985|.9751|eaf x aod|oxide charged with reductant 0.95-0.98
N|||.875|.875|ladle|for nitrided alloys; gas pick-up not stated
Cu|.99|1|.99|.99|eaf x aod|not removable
Nb|||.935|.935|ladle|add after reduction
Ti|||.60|.60|ladle|ladle or wire only; depends on N and O
Al|||.50|.50|ladle|
V||.725|.945|.945|ladle|
W|.95|.98|.98|.931|eaf x aod|
B|||.725|.725|ladle|
Sn|.975|.975||.9506|eaf x aod|not removable
"""

# Element, the price-book row that it is bought as. Elements not bought come in with the scrap.
BOUGHT_AS = dict(Fe="scrap_mild", Si="fesi75", Mn="hc_femn", Cr="hc_fecr", Ni="ni_cathode_class1")
BOUGHT_AS |= dict(Mo="femo_67", N="nitrogen", Cu="cu_cathode_scrap", Nb="fenb65", Ti="feti70")
BOUGHT_AS |= dict(Al="al_deox", V="fev80")
RESIDUALS = ("C", "P", "S", "Co", "B")
# Where it is not the furnace, or the ladle as its main element says.
ADDED = {"hc_fecr": "converter"}


def price_book() -> list[dict]:
    """Read the literal above: one dict a material."""
    book = []
    for line in PRICES.splitlines():
        name, kind, price, element, co2, stock, contents, status, note = line.split("|")
        texts = ["" if t == "-" else f"{float(t):g}" for t in contents.split()]
        book.append(
            dict(material=name, kind=kind, price=int(price), element=element, co2=CO2[co2])
            | dict(stock=stock, status=status, note=f"{INVENTED} price; {note}".rstrip("; "))
            | dict(contents=dict(zip(CONTENTS, texts, strict=True)))
        )
    return book


def price_rows() -> list[list]:
    """The price book: prices.csv."""
    rows = [[*columns(PRICE_COLUMNS), *CONTENTS, "added", "analysis_status", "note"]]
    for m in price_book():
        basis = "per t contained" if m["element"] else "per t gross"
        price = [m["price"], CURRENCY, basis, m["element"]]
        contents = m["contents"].values()
        head = [m["material"], m["kind"], *price, *m["co2"], m["stock"]]
        rows.append([*head, *contents, ADDED.get(m["material"], ""), m["status"], m["note"]])
    return rows


def recovery_rows() -> list[list]:
    """The recoveries: recoveries.csv."""
    rows = [columns(RECOVERY_COLUMNS)]
    for line in RECOVERIES.splitlines():
        element, *fractions, basis, note = line.split("|")
        numbers = [f"{float(t):g}" if t else "" for t in fractions]
        remark = f"{note}; " if note else ""
        remark += f"that Tarnwick Works reaches it is {INVENTED}"
        rows.append([element, *numbers, basis, "memory", f"{_TRADE}; {_RANGE}", remark])
    return rows


def element_price_rows() -> list[list]:
    """Price and footprint of a contained tonne of each element, out of the price book."""
    rows: list[list] = [columns(ELEMENT_COLUMNS)]
    book = {m["material"]: m for m in price_book()}
    recovery = {row[0]: row[4] for row in recovery_rows()[1:]}
    for element, name in BOUGHT_AS.items():
        m = book[name]
        # Mild scrap is bought as the base metal: its tonne is taken as a tonne of iron.
        share = 1.0 if element == "Fe" else float(m["contents"][element]) / 100
        price = m["price"] if m["element"] else round(m["price"] / share, 1)
        co2, status, source = m["co2"]
        co2 = "" if co2 == "" else f"{co2 / share:.2f}"
        head = [element, f"{price:g}", co2, recovery[element], "per t contained", name]
        rows.append([*head, DATE, status, source, INVENTED])
    for element in RESIDUALS:
        base = [book["scrap_mild"]["price"], "0.00", 1, "residual, paid as base metal"]
        rows.append([element, *base, "scrap_mild", DATE, *CO2["scrap"][1:], INVENTED])
    return rows


# ---------------------------------------------------------------- plant and customers

# Standard deviation of one analysis, wt%: the middle of trade figures from memory.
ANALYSIS_SD = dict(C=0.002, Si=0.01, Mn=0.015, P=0.001, S=0.0007, Cr=0.06, Ni=0.045, Mo=0.02)
ANALYSIS_SD |= dict(N=0.004, Cu=0.008, Nb=0.008, Ti=0.008)

PLANT = """\
works|heat_size|60|t|
eaf|temperature_max|1680|C|
eaf|tap_carbon_max|2.0|wt%|
eaf|tap_nitrogen|0.035|wt%|
converter|temperature_max|1730|C|lining
converter|pressure|1|atm|no vacuum
converter|bath_carbon_start|1.5|wt%|
converter|oxygen_to_inert_step_1|4|1|oxygen to inert gas, by volume
converter|oxygen_to_inert_step_2|1|1|
converter|oxygen_to_inert_step_3|0.3333|1|
converter|oxygen_to_inert_step_4|0.1111|1|
converter|pco_step_1|0.889|atm|all oxygen to CO: 2 on/(2 on + i)
converter|pco_step_2|0.667|atm|
converter|pco_step_3|0.400|atm|
converter|pco_step_4|0.182|atm|
converter|basicity|1.7|1|CaO to SiO2
converter|basicity_max|2.3|1|
converter|sulphur_min|0.0008|wt%|
ladle|temperature_min|1520|C|
ladle|wire_feeding|1|1|1 = there is a wire feeder
caster|superheat_min|25|C|
caster|superheat_max|45|C|
caster|pressure|1|atm|open mould
caster|slab_thickness|200|mm|
caster|slab_width_max|1280|mm|
caster|casting_speed|0.9|m/min|
reheating|temperature_max|1280|C|
reheating|temperature_min|1150|C|
reheating|time|3|h|
hot_mill|force_max|30|MN|
hot_mill|torque_max|2500|kN m|
hot_mill|roll_radius|350|mm|
hot_mill|width_max|1250|mm|
hot_mill|entry_thickness|200|mm|
hot_mill|exit_thickness_min|2.5|mm|
hot_mill|exit_thickness_max|8|mm|
hot_mill|finish_temperature_min|920|C|
hot_mill|speed_max|6|m/s|
hot_mill|passes_max|13|1|
hot_mill|friction|0.3|1|scale on the strip
hot_mill|run_out_cooling_rate|15|C/s|to the coiler
anneal|temperature_max|1150|C|strip
anneal|temperature_min|750|C|
anneal|line_speed_min|10|m/min|
anneal|line_speed_max|60|m/min|
anneal|furnace_length|60|m|
anneal|cooling_rate|30|C/s|2 mm strip, to 500 C
batch_anneal|temperature_max|860|C|bell furnace, for ferritic coils
batch_anneal|time|24|h|
pickling|shot_blast|1|1|1 = there is a blaster, hot strip only
pickling|sodium_sulphate|180|g/l|neutral, electrolytic
pickling|nitric_acid|120|g/l|mixed acid: hazardous, see the safety rules of the plant
pickling|hydrofluoric_acid|30|g/l|mixed acid: hazardous, see the safety rules of the plant
pickling|temperature|60|C|
pickling|time_max|60|s|at the lowest line speed
cold_mill|force_max|8|MN|
cold_mill|roll_radius|60|mm|
cold_mill|width_max|1250|mm|
cold_mill|entry_thickness_max|5|mm|
cold_mill|exit_thickness_min|0.4|mm|
cold_mill|friction|0.06|1|
cold_mill|reduction_max|80|%|before an anneal
cold_mill|strip_temperature_max|110|C|oil
cold_mill|speed_max|400|m/min|
skin_pass|force_max|6|MN|
skin_pass|elongation_max|1.5|%|
polishing|grit_1|120|grit|
polishing|grit_2|180|grit|
polishing|grit_3|240|grit|
polishing|grit_4|320|grit|
polishing|width_max|1250|mm|
polishing|thickness_min|0.6|mm|
polishing|thickness_max|3|mm|
"""


def plant_rows() -> list[list]:
    """What the works can do: plant.csv, one limit a row."""
    rows: list[list] = [["step", "parameter", "value", "unit", "note"]]
    for line in PLANT.splitlines():
        step, parameter, value, unit, note = line.split("|")
        rows.append([step, parameter, value, unit, f"{INVENTED}; {note}".rstrip("; ")])
    for element, sd in SD.items():
        note = f"{INVENTED}; standard deviation from heat to heat"
        rows.append(["scatter", element, sd, "wt%", note])
    for element, sd in ANALYSIS_SD.items():
        note = f"{INVENTED} for this works; standard deviation of one analysis, mid of trade range"
        rows.append(["analysis", element, sd, "wt%", f"{note} (memory)"])
    return rows


CUSTOMERS = [
    columns("customer product_form thickness_mm finish present_grade service asks note"),
    [
        "Plumebrook Dairy",
        "cold rolled strip, welded into tube and vessel shells",
        "1.5",
        "2B, outside 2K",
        "TW-1812M 1.4404 / 316L / S31603",
        "milk plant: milk and whey at 4 to 75 C, cleaning with hot caustic (2 % NaOH, 80 C) and a"
        " short acid rinse, rinse water with mild chlorides (below 100 mg/l), indoors",
        "may a leaner grade replace the CrNiMo one?",
        INVENTED,
    ],
    [
        "Skerrow Desalination",
        "hot rolled strip, welded into pipe",
        "4.0",
        "1D",
        "TW-D21 1.4162 / S32101",
        "brine piping of a desalination plant: concentrated sea water at 35 to 45 C, aerated,"
        " standing during stops, crevices at the flanges",
        "which grade of the works, if any, may be offered?",
        INVENTED,
    ],
    [
        "Halden & Wick Lifts",
        "cold rolled sheet, brushed panels",
        "1.2",
        "2K, 240 grit",
        "TW-188 1.4301/1.4307 - 304/304L",
        "lift cars and doors indoors, folded and stretched at the corners, wiped with household"
        " cleaners, sensors that a magnetic panel disturbs",
        "panels that stay non-magnetic after folding, and cheaper ones",
        INVENTED,
    ],
    [
        "Orrin Cutlery",
        "cold rolled strip, annealed, blanked and hardened by the customer",
        "2.0",
        "2B",
        "",
        "knife blades: hardened, ground, dishwasher at 65 C with salt and detergent",
        "a hardenable strip; says that no grade of the works hardens",
        INVENTED,
    ],
]


# ---------------------------------------------------------------------------- writing


def table(rows: list[list], delimiter: str = ",") -> str:
    """One CSV text, quoted only where it must be, lines ended by LF."""
    out = io.StringIO()
    csv.writer(out, delimiter=delimiter, lineterminator="\n").writerows(rows)
    return out.getvalue()


# What Tarnwick Works has or makes, invented: weeks 0 is from stock.
STOCK = """\
grade,form,thickness_min_mm,thickness_max_mm,finish,weeks,note
1.4301,cold rolled strip,0.5,3.0,2B,0,invented
1.4301,cold rolled strip,0.8,2.0,2K,3,invented
1.4307,cold rolled strip,0.5,3.0,2B,2,invented
1.4307,hot rolled strip,3.0,6.0,1D,4,invented
1.4016,cold rolled strip,0.4,2.0,2B,1,invented
1.4016,cold rolled strip,0.6,1.5,2K,4,invented
1.4404,cold rolled strip,0.8,3.0,2B,5,invented
1.4376,cold rolled strip,0.8,2.5,2B,8,invented
1.4462,hot rolled strip,4.0,6.0,1D,12,invented
"""


SENDER = """\
Tarnwick Works (invented)
Technical service, Mill Lane 1, Tarnwick
"""


def demo_files() -> dict[str, bytes]:
    """Make every file in memory: name and bytes."""
    # The old generator, because its stream is frozen; the new one may change between versions.
    rng = np.random.RandomState(SEED)
    heats = draw_heats(rng)
    texts = {
        "heats.csv": table(heat_rows(heats, rng)),
        "lab_tests.csv": table(lab_rows(heats, rng)),
        "lab_tests_law.csv": table(law_rows()),
        "prices.csv": PRICES_HEADER + "\n" + table(price_rows()),
        "recoveries.csv": table(recovery_rows()),
        "element_prices.csv": table(element_price_rows()),
        "plant.csv": table(plant_rows()),
        "customers.csv": table(CUSTOMERS),
        "stock.csv": STOCK,
        "sender.txt": SENDER,
        "certificate_multiplier.csv": MULTIPLIER,
        "certificate_transposed.csv": TRANSPOSED,
        "certificate_hostile.csv": HOSTILE,
        "certificate_pasted.txt": PASTED,
    }
    files = {name: text.encode() for name, text in texts.items()}
    files["certificate_semicolon.csv"] = SEMICOLON.replace("\n", "\r\n").encode("cp1252")
    files["certificate_tabs.csv"] = TABS.replace("|", "\t").encode("utf-8-sig")
    files["certificate_minmax.xlsx"] = minmax_workbook()
    return files


def main() -> None:
    """Write the files into the folder named on the command line, or beside this script."""
    folder = Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parent
    folder.mkdir(parents=True, exist_ok=True)
    for name, content in demo_files().items():
        (folder / name).write_bytes(content)


if __name__ == "__main__":
    main()
