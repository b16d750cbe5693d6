"""Chromium and nickel equivalents, and their ratios."""

from gradekit.relations import groups
from gradekit.relations.declaration import Check
from gradekit.relations.topics._catalogue import CATALOGUE
from gradekit.relations.topics._checks import (
    AUSTENITIC,
    DUPLEX,
    FERRITIC,
    LOW_NICKEL,
    MARTENSITIC,
    PRINTED_316,
)
from gradekit.relations.topics._ranges import BN2, CAST_CF, EIGHTEEN_EIGHT, HALF_MN

_WELD = CATALOGUE.group(state="weld", status="verified")
_SCHAEFFLER = _WELD.group(
    source=("schaeffler_1949", "jis_z3001"), domain="C <0.2; Si <1; Mn <4; Mo <3; Nb <1.5"
)
_SCHAEFFLER.linear(
    "cr_eq_schaeffler_1949",
    "Schaeffler chromium equivalent",
    "Cr + Mo + 1.5*Si + 0.5*Nb",
    check=Check(AUSTENITIC, 22.54),
    note=(
        "N and Cu ignored; diagram carries a built-in N of about 0.05 (0-18Cr), 0.07 "
        "(18-25Cr), 0.10 (>25Cr)"
    ),
)
_SCHAEFFLER.linear(
    "ni_eq_schaeffler_1949",
    "Schaeffler nickel equivalent",
    "Ni + 0.5*Mn + 30*C",
    check=Check(AUSTENITIC, 11.665),
    note="do not use for N-alloyed or Mn >4 steels",
)

_JSME = _WELD.group(source=("jsme_dictionary",))
_JSME.linear(
    "cr_eq_schaeffler_ti",
    "Schaeffler chromium equivalent with titanium",
    "cr_eq_schaeffler_1949 + 2*Ti",
    check=Check(AUSTENITIC, 22.92),
    note="used for the solidification-mode ratio of Ti-bearing steels",
)
_JSME.linear(
    "cr_eq_jsme_short_a",
    "Short chromium equivalent Cr + 0.8Mo",
    "Cr + 0.8*Mo",
    check=Check(AUSTENITIC, 21.14),
    note="the matching Ni side is not known; not usable in a criterion",
)
_JSME.linear(
    "cr_eq_jsme_short_b",
    "Short chromium equivalent Cr + Mo + 0.3Si",
    "Cr + Mo + 0.3*Si",
    check=Check(AUSTENITIC, 21.759),
    note="the matching Ni side is not known; not usable in a criterion",
)

_DELONG = _WELD.group(
    families=groups.AUSTENITIC, source=("delong_1956", "long_delong_1973", "jis_z3001")
)
_DELONG.linear(
    "cr_eq_delong_1973",
    "DeLong chromium equivalent",
    "cr_eq_schaeffler_1949",
    domain="chart box Creq 16-27 (memory)",
    ranges={"value": (16, 27)},
    check=Check(AUSTENITIC, 22.54),
    note="same as Schaeffler",
)
_DELONG.linear(
    "ni_eq_delong_1973",
    "DeLong nickel equivalent",
    "ni_eq_schaeffler_1949 + 30*N",
    domain="chart box Nieq 10-21 (memory); Mn <=4",
    ranges=HALF_MN | {"value": (10, 21)},
    check=Check(AUSTENITIC, 15.055),
    note="N not analysed: 0.06; 0.08 GMAW; 0.12 self-shielded FCAW (memory, ASME III NB-2433.1)",
)

_BASLER = CATALOGUE.group(
    families=("austenitic",),
    status="verified",
    source=("bn2",),
    domain="1.4404; 1.4435",
    ranges=BN2,
)
_BASLER.linear(
    "cr_eq_bn2",
    "Basler Norm BN2 chromium equivalent",
    "cr_eq_schaeffler_ti",
    check=Check(AUSTENITIC, 22.92),
    note="use only with ni_eq_bn2",
)
_BASLER.linear(
    "ni_eq_bn2",
    "Basler Norm BN2 nickel equivalent",
    "ni_eq_delong_1973 - 0.6",
    check=Check(AUSTENITIC, 14.455),
    note="N term is 30(N-0.02), hence the intercept -0.6",
)

_LEAN_DUPLEX = CATALOGUE.group(
    families=groups.DUPLEX, status="verified", source=("us_20030172999",)
)
_LEAN_DUPLEX.linear(
    "cr_eq_lean_duplex_2003",
    "Lean-duplex chromium equivalent",
    "cr_eq_schaeffler_ti",
    domain="window 20 < Creq < 24.5",
    ranges={"value": (20, 24.5)},
    check=Check(AUSTENITIC, 22.92),
)
_LEAN_DUPLEX.linear(
    "ni_eq_lean_duplex_2003",
    "Lean-duplex nickel equivalent",
    "Ni + 0.5*Mn + 30*C + 30*N + 0.5*Cu + 0.5*Co",
    domain="window Nieq > 10",
    ranges={"value": (10, None)},
    check=Check(AUSTENITIC, 15.3435),
    note="20 < Creq < 24.5 and Nieq > 10 give 35-65 vol% ferrite",
)

_WRC_1988 = CATALOGUE.group(
    families=groups.AUSTENITIC_DUPLEX,
    state="weld",
    status="secondary",
    source=("siewert_1988",),
    domain="Mn <=10; Mo <=3 (memory); N <=0.2 (memory); Si <=1 (memory)",
)
_WRC_1988.linear(
    "cr_eq_wrc_1988",
    "WRC-1988 chromium equivalent",
    "Cr + Mo + 0.7*Nb",
    check=Check(AUSTENITIC, 21.803),
    note=(
        "abstract verified (0-100 FN, Mn to 10); coefficients recalled but identical to "
        "WRC-1992; the 1992 authors state that their change was the Cu term"
    ),
)
_WRC_1988.linear(
    "ni_eq_wrc_1988",
    "WRC-1988 nickel equivalent",
    "Ni + 35*C + 20*N",
    check=Check(AUSTENITIC, 13.255),
    note="WRC-1992 without Cu; the 1992 authors state that their change was the Cu term",
)

_WRC_1992 = _WELD.group(families=groups.AUSTENITIC_DUPLEX, source=("kotecki_siewert_1992",))
_WRC_1992.linear(
    "cr_eq_wrc_1992",
    "WRC-1992 chromium equivalent",
    "cr_eq_wrc_1988",
    domain="diagram box Creq 18-30; axes may be extended for dilution",
    ranges={"value": (18, 30)},
    check=Check(AUSTENITIC, 21.803),
    note="Si and Mn absent on purpose. A 2026 paper prints 18.9 for a 316L (0.07 Nb), which agrees",
)
_WRC_1992.linear(
    "ni_eq_wrc_1992",
    "WRC-1992 nickel equivalent",
    "ni_eq_wrc_1988 + 0.25*Cu",
    domain="diagram box Nieq 10-18; axes may be extended for dilution",
    ranges={"value": (10, 18)},
    check=Check(AUSTENITIC, 13.3575),
    note="FN needs digitised diagram lines, which are not available",
)

_HAMMAR = _WELD.group(
    families=groups.AUSTENITIC_DUPLEX, source=("hammar_svensson_1979", "suutala_1983")
)
_HAMMAR.linear(
    "cr_eq_hammar_1979",
    "Hammar-Svensson chromium equivalent",
    "Cr + 1.37*Mo + 1.5*Si + 2*Nb + 3*Ti",
    check=Check(AUSTENITIC, 24.396),
    note="solidification mode of castings and welds",
)
_HAMMAR.linear(
    "ni_eq_hammar_1979",
    "Hammar-Svensson nickel equivalent",
    "Ni + 0.31*Mn + 22*C + 14.2*N + Cu",
    check=Check(AUSTENITIC, 13.0587),
)

_SCHNEIDER = CATALOGUE.group(
    families=(*groups.MARTENSITIC, "ferritic-martensitic", "not stainless"),
    status="verified",
    source=("schneider_1960", "pickering_1976"),
    domain="structure after 1050 C / 30 min + water quench; also 9-12Cr weld metal",
)
_SCHNEIDER.linear(
    "cr_eq_schneider_1960",
    "Schneider chromium equivalent",
    "Cr + 1.5*Mo + 2*Si + 1.75*Nb + 1.5*Ti + 5*V + 0.75*W + 5.5*Al",
    check=Check(AUSTENITIC, 25.873),
)
_SCHNEIDER.linear(
    "ni_eq_schneider_1960",
    "Schneider nickel equivalent",
    "Ni + 0.5*Mn + 30*C + 25*N + 0.3*Cu + Co",
    check=Check(AUSTENITIC, 14.78),
)

_CASTING = CATALOGUE.group(state="casting", status="memory")
_HULL = _CASTING.group(families=groups.AUSTENITIC, source=("hull_1973",))
_HULL.linear(
    "cr_eq_hull_1973",
    "Hull chromium equivalent",
    "Cr + 1.21*Mo + 0.48*Si + 0.14*Nb + 2.2*Ti + 2.27*V + 0.72*W + 2.48*Al + 0.21*Ta",
    check=Check(AUSTENITIC, 23.61928),
    note=(
        "70 chill-cast alloy types, 13 elements (verified). Mo and Si supported by "
        "recomputing 39 castings; other coefficients recalled only"
    ),
)
_HULL.function(
    "ni_eq_hull_1973",
    "Hull nickel equivalent",
    "Ni + 0.11*Mn + 24.5*C + 18.4*N + 0.44*Cu + 0.41*Co - 0.0086*Mn**2",
    domain="Mn to about 20",
    ranges={"Mn": (None, 20)},
    check=Check(AUSTENITIC, 13.09752),
    note=(
        "Mn term falls to 0 at Mn 12.8 and is negative above. Mn, C, N supported by "
        "recomputing 39 castings; Cu, Co recalled only"
    ),
)

_HULL_CAST = _CASTING.group(
    families=("austenitic",),
    source=("chopra_1994", "hull_1973"),
    domain="CF3; CF8; CF8M",
    ranges=CAST_CF,
)
_HULL_CAST.linear(
    "cr_eq_hull_cass_1994",
    "Hull form for cast stainless (CASS), Cr side",
    "-4.99 + Cr + 1.21*Mo + 0.48*Si",
    check=Check(AUSTENITIC, 17.3474),
    note="recomputed within 0.13 % ferrite on 39 castings",
)
_HULL_CAST.function(
    "ni_eq_hull_cass_1994",
    "Hull form for cast stainless (CASS), Ni side",
    "2.77 + Ni + 0.11*Mn + 24.5*C + 18.4*N - 0.0086*Mn**2",
    check=Check(AUSTENITIC, 15.61865),
    note="as cr_eq_hull_cass_1994",
)

_SCHOEFER = _CASTING.group(
    families=groups.AUSTENITIC_DUPLEX,
    source=("astm_a800",),
    domain="CF-3 to CH-10; duplex 1B-7A from the 2020 edition",
)
_SCHOEFER.linear(
    "cr_eq_schoefer_a800",
    "Schoefer / ASTM A800 chromium equivalent",
    "-4.99 + Cr + 1.4*Mo + 1.5*Si + Nb",
    check=Check(AUSTENITIC, 18.615),
    note="grade list verified, coefficients recalled; use the ratio only",
)
_SCHOEFER.linear(
    "ni_eq_schoefer_a800",
    "Schoefer / ASTM A800 nickel equivalent",
    "2.25 + Ni + 0.5*Mn + 30*C + 26*N",
    check=Check(AUSTENITIC, 16.853),
    note="N term 26(N-0.02) and constant +2.77 give intercept 2.25",
)

_ESPY = CATALOGUE.group(
    families=groups.AUSTENITIC,
    state="weld",
    status="memory",
    source=("espy_1982",),
    domain="N <=0.35; high-Mn and N grades",
)
_ESPY.linear(
    "cr_eq_espy_1982",
    "Espy chromium equivalent",
    "Cr + Mo + 1.5*Si + 0.5*Nb + 5*V + 3*Al",
    check=Check(AUSTENITIC, 23.168),
)
_ESPY.function(
    "ni_eq_espy_1982",
    "Espy nickel equivalent",
    (
        "k = 30 if N <= 0.20 else (22 if N <= 0.25 else 20); 0.87 + Ni + 30*C + 0.33*Cu + "
        "k*(N - 0.045)"
    ),
    check=Check(AUSTENITIC, 13.8553),
    note=(
        "0.87 is a constant that stands for Mn, not a coefficient"
        "; steps down by 1.24 at 0.20 N and by 0.41 at 0.25 N, as published: never a constraint of "
        "a design, ni_eq_espy_smooth is for that"
    ),
)
_ESPY.function(
    "ni_eq_espy_smooth",
    "Espy nickel equivalent without its steps",
    "k = 30 - 10*min(max(N - 0.20, 0), 0.15)/0.15; 0.87 + Ni + 30*C + 0.33*Cu + k*(N - 0.045)",
    status="heuristic",
    check=Check(AUSTENITIC | {"N": 0.263}, 17.4397),
    note="for working backwards, where a step would be exploited: 30 to 20 between 0.20 and 0.35 N",
)
CATALOGUE.linear(
    "ni_eq_kotecki_mn_1984",
    "DeLong nickel equivalent with constant manganese",
    "0.35 + Ni + 30*C + 30*N",
    families=groups.AUSTENITIC,
    state="weld",
    status="memory",
    source=("szumachowski_kotecki_1984",),
    domain="Mn to about 12",
    ranges={"Mn": (None, 12)},
    check=Check(AUSTENITIC, 14.55),
    note="low confidence",
)

_UGGOWITZER = CATALOGUE.group(
    families=("austenitic",), source=("speidel_uggowitzer_1991",), domain="high-N Ni-free or low-Ni"
)
_UGGOWITZER.linear(
    "cr_eq_uggowitzer_1991",
    "High-nitrogen Cr-Mn steels, Cr side",
    "Cr + 1.5*Mo + 0.48*Si + 1.75*Nb + 2.3*V + 1.5*W + 2.5*Al",
    status="secondary",
    check=Check(LOW_NICKEL, 17.5407),
    note="six printed alloys recompute within 0.06; V and W terms untested",
)
_UGGOWITZER.function(
    "ni_eq_uggowitzer_1991",
    "High-nitrogen Cr-Mn steels, Ni side",
    "Ni + 0.1*Mn + 30*C + 18*N + Co - 0.01*Mn**2",
    status="memory",
    check=Check(LOW_NICKEL, 7.4224),
    note=(
        "Mn term peaks at Mn 5, zero at Mn 10; reads 0.08-0.15 above six printed values; "
        "Mn and N terms unsettled"
    ),
)
CATALOGUE.linear(
    "ni_eq_us6056917",
    "Low-nickel Cr-Mn-Cu-N steels, Ni side",
    "Ni + 0.08*Mn + 20.04*C + 21.31*N + 0.46*Cu",
    families=("austenitic",),
    status="verified",
    source=("us_6056917",),
    domain="Mn 5-9; Ni 0.1-2; Cr 13-19; Cu 1-4; N 0.1-0.4",
    check=Check(LOW_NICKEL, 9.1115),
    note="Cr side is Cr alone; intended for ferrite_index_fi1_us6056917",
)

_ANNEALED = CATALOGUE.group(
    families=groups.DUPLEX,
    status="memory",
    source=("imoa_duplex_guide",),
    domain="annealed 1050-1150 C",
)
_ANNEALED.linear(
    "cr_eq_duplex_annealed",
    "Annealed duplex, Cr side",
    "Cr + 0.88*Mo + 1.73*Si",
    check=Check(DUPLEX, 25.7719),
)
_ANNEALED.linear(
    "ni_eq_duplex_annealed",
    "Annealed duplex, Ni side",
    "Ni + 24.55*C + 21.75*N + 0.4*Cu",
    check=Check(DUPLEX, 10.04055),
)

_BALMFORTH = CATALOGUE.group(
    families=(*groups.FERRITIC, "ferritic-martensitic", "martensitic"),
    status="memory",
    source=("balmforth_lippold_2000",),
    domain="Cr 11-30; Ni 0.1-3; C 0.07-0.2; Mn 0.3-1.8; Si 0.3-1; Mo 0-2; Al <=0.3; Ti <=0.5",
)
_BALMFORTH.linear(
    "cr_eq_balmforth_2000",
    "Ferritic-martensitic diagram, Cr side",
    "Cr + 2*Mo + 10*Ti + 10*Al",
    check=Check(FERRITIC, 22.33),
    note="not for Al + Ti > 1",
)
_BALMFORTH.linear(
    "ni_eq_balmforth_2000",
    "Ferritic-martensitic diagram, Ni side",
    "ni_eq_wrc_1988",
    check=Check(FERRITIC, 1.085),
)
CATALOGUE.linear(
    "cr_eq_9cr_p91",
    "9Cr steels (P91/F91) delta-ferrite equivalent",
    "Cr - 4*Ni + 4*Mo - 2*Mn + 6*Si - 40*C - 30*N - Cu + 5*Nb + 9*Ti + 11*V + 1.5*W + 12*Al",
    families=("martensitic", "not stainless"),
    status="conflicting",
    source=("p91_practice",),
    check=Check(MARTENSITIC, 7.063),
    note=(
        "< 10 no delta; 10-12 tolerable if delta < 5 %. The trade article prints 4Mo + "
        "1.5Mo + 1.5W; the second Mo is taken as a slip"
    ),
)
CATALOGUE.linear(
    "cr_eq_newhouse_1976",
    "9-12Cr equivalent, Newhouse form",
    "cr_eq_9cr_p91 - Ti - 2*Co",
    families=("martensitic", "not stainless"),
    status="memory",
    source=("patriarca_1976",),
    domain="Cr 9-12",
    check=Check(MARTENSITIC, 6.394),
    note="8Ti and -2Co where the P91 form has 9Ti and no Co",
)

_PRYCE = CATALOGUE.group(
    families=groups.AUSTENITIC,
    status="memory",
    source=("pryce_andrews_1960",),
    domain="18-8 at hot-working temperature",
    ranges=EIGHTEEN_EIGHT,
    note="low confidence",
)
_PRYCE.linear(
    "cr_eq_pryce_1960",
    "Pryce-Andrews chromium equivalent (hot working)",
    "Cr + Mo + 3*Si",
    check=Check(AUSTENITIC, 23.19),
)
_PRYCE.linear(
    "ni_eq_pryce_1960",
    "Pryce-Andrews nickel equivalent (hot working)",
    "Ni + 0.5*Mn + 21*C + 11.5*N",
    check=Check(AUSTENITIC, 12.6315),
)
CATALOGUE.linear(
    "ni_eq_hirayama_1970",
    "Hirayama-Ogirima nickel equivalent (austenite stability)",
    "0.65*Cr + Ni + 0.98*Mo + 1.05*Mn + 0.35*Si + 12.6*C",
    families=groups.AUSTENITIC,
    status="verified",
    source=("hirayama_ogirima_1970", "he_austenite_2026"),
    check=Check(PRINTED_316, 28.48, "printed", tolerance=0.006),
    note=(
        "no N term; stability index for hydrogen service, not a constitution-diagram "
        "axis; 27 printed values reproduced to 0.01"
    ),
)
_WELD.function(
    "cr_ni_ratio_schaeffler",
    "Schaeffler Creq/Nieq for solidification mode",
    "cr_eq_schaeffler_1949/ni_eq_schaeffler_1949",
    source=("suutala_1980", "schaeffler_1949"),
    check=Check(AUSTENITIC, 1.932276),
    note=(
        "<= about 1.48 A/AF; 1.48-1.95 FA; > 1.95 F (upper limit memory). Never compare "
        "with Hammar-Svensson limits"
    ),
)
_HAMMAR.function(
    "cr_ni_ratio_hammar",
    "Hammar-Svensson Creq/Nieq for solidification mode",
    "cr_eq_hammar_1979/ni_eq_hammar_1979",
    check=Check(AUSTENITIC, 1.86818),
    note="switch 1.43 (ingot, castings) to 1.55 (fast GTA)",
)
_SCHOEFER.function(
    "cr_ni_ratio_schoefer_a800",
    "Schoefer / A800 composition ratio",
    "cr_eq_schoefer_a800/ni_eq_schoefer_a800",
    domain="CF-3 to CH-10",
    check=Check(AUSTENITIC, 1.104551),
    note="enters the A800 chart; chart line not available as algebra",
)
_HULL_CAST.function(
    "cr_ni_ratio_hull_cass",
    "Hull CASS composition ratio",
    "cr_eq_hull_cass_1994/ni_eq_hull_cass_1994",
    source=("chopra_1994",),
    check=Check(AUSTENITIC, 1.110685),
    note="clamp at 0.9 before use in ferrite_hull_cass_1994",
)
