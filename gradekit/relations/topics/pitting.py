"""Pitting indices, critical temperatures and pitting potential."""

from gradekit.relations import groups
from gradekit.relations.declaration import Check
from gradekit.relations.topics._catalogue import CATALOGUE
from gradekit.relations.topics._checks import AUSTENITIC, DUPLEX, FERRITIC, LOW_NICKEL, NICKEL_ALLOY

# Free-machining steel holds ten times as much: it pits at its sulphides, whatever else it holds.
_CLEAN = {"S": (None, 0.03)}

_VERIFIED = CATALOGUE.group(families=groups.AUSTENITIC_DUPLEX, status="verified")
_VERIFIED.linear(
    "pren_16n",
    "PREN with 16N",
    "Cr + 3.3*Mo + 16*N",
    source=("truman_1987", "imoa_steel_grades"),
    check=Check(DUPLEX, 35.282),
    note="default; rank inside one family only",
)
_VERIFIED.linear(
    "pren_16n_w",
    "PREN with 16N and tungsten",
    "pren_16n + 1.65*W",
    source=("okamoto_1992", "imoa_steel_grades"),
    check=Check(DUPLEX, 35.8595),
    note="W = half of Mo; ISO 15156-3 F_PREN; W super duplex",
)
CATALOGUE.linear(
    "pre_ferritic",
    "PRE of ferritic grades, no nitrogen",
    "Cr + 3.3*Mo + 1.65*W",
    quantity="pitting resistance equivalent, 1",
    families=groups.FERRITIC,
    status="verified",
    source=("lorenz_medawar_1969", "imoa_steel_grades"),
    check=Check(FERRITIC, 21.527),
)
CATALOGUE.linear(
    "pren_27n",
    "PREN with 27N",
    "Cr + 3.3*Mo + 27*N",
    families=groups.AUSTENITIC,
    status="verified",
    source=("pren_trade_article",),
    check=Check(AUSTENITIC, 29.941),
)
_VERIFIED.linear(
    "pren_30n",
    "PREN with 30N (Wirksumme)",
    "Cr + 3.3*Mo + 30*N",
    source=("herbsleb_1982", "pren_trade_article"),
    check=Check(DUPLEX, 37.69),
    note="conflicting practice with 16N; 16N fits 44 FeCl3 heats slightly better",
)
CATALOGUE.linear(
    "pren_13n",
    "PREN with 13N",
    "Cr + 3.3*Mo + 13*N",
    families=groups.AUSTENITIC,
    status="secondary",
    source=("suutala_kurkela_1984",),
    check=Check(AUSTENITIC, 28.359),
)
CATALOGUE.linear(
    "pren_30n_w",
    "PREN with 30N and tungsten",
    "pren_30n + 1.65*W",
    families=groups.DUPLEX,
    status="memory",
    source=("okamoto_1992",),
    check=Check(DUPLEX, 38.2675),
)
CATALOGUE.linear(
    "pren_mn_rondelli_1995",
    "PREN with 30N and manganese penalty",
    "Cr + 3.3*Mo - Mn + 30*N",
    families=groups.AUSTENITIC_DUPLEX,
    status="memory",
    source=("rondelli_1995",),
    check=Check(LOW_NICKEL, 16.229),
    note=(
        "best of four variants as one-term CPT predictor on 17 heats 20Cr-(18-25)Ni in "
        "0.2 M NaCl (RMSE 5.6 C); use beside pren_16n when Mn > 3 or N > 0.2"
    ),
)

_AUSTENITIC = CATALOGUE.group(families=groups.AUSTENITIC, status="memory")
_AUSTENITIC.function(
    "pren_jargelius_1998",
    "PREN of high-N superaustenitic steels",
    "Cr + 3.3*Mo - 1.6*Mn + 36*N + 7*Mo*N",
    source=("jargelius_1998",),
    domain="Cr 20; Ni 18-25; Mo 0-6; Mn 0.2-11; N <=0.5",
    check=Check(AUSTENITIC, 30.0413),
    note="as one-term CPT predictor on 17 heats 20Cr-(18-25)Ni in 0.2 M NaCl: RMSE 7.3 C",
)
_AUSTENITIC.linear(
    "marc_speidel_2003",
    "MARC index of C+N steels",
    "Cr - 0.25*Ni + 3.3*Mo - 0.5*Mn + 20*C + 20*N",
    quantity="pitting resistance equivalent, 1",
    source=("speidel_2003",),
    domain="C+N Ni-free or low-Ni austenitic; C only if dissolved",
    check=Check(LOW_NICKEL, 18.629),
)
_AUSTENITIC.linear(
    "pren_sp",
    "Pitting index with sulphur and phosphorus",
    "Cr + 3.3*Mo + 30*N - 123*P - 123*S",
    source=("pren_sp_review",),
    check=Check(AUSTENITIC, 26.959),
    note="low confidence; do not use for decisions",
)

_NICKEL_ALLOY = CATALOGUE.group(
    families=("nickel alloy",), status="memory", note="not for stainless steels"
)
_NICKEL_ALLOY.linear(
    "pren_ni_base",
    "PREN of nickel-base alloys",
    "Cr + 1.5*Mo + 30*N + 1.5*Nb + 1.5*W",
    source=("producer_literature",),
    check=Check(NICKEL_ALLOY, 45.75),
)

_G48 = CATALOGUE.group(
    families=groups.AUSTENITIC_DUPLEX,
    status="memory",
    source=("astm_g48", "nyby_2021"),
    domain="not stated; S up to 0.03, as in the measured heats",
    ranges=_CLEAN,
)
_G48.linear(
    "cpt_g48",
    "CPT in 6 % FeCl3 + 1 % HCl (G48 start temperature)",
    "-41 + 2.5*Cr + 7.6*Mo + 31.9*N",
    error=7.1,
    error_basis="rmse on 44 immersion heats, bias -0.7, R2 0.78",
    check=Check(DUPLEX, 43.7968),
    note=(
        "a guide to the starting temperature of the test, not a forecast; a mean of opposite "
        "errors, calculated less measured: 2205 +6 to +8 C; quote +-15 C"
    ),
)
_G48.linear(
    "cct_g48",
    "CCT in 6 % FeCl3 (G48 F start temperature)",
    "-81 + 3.2*Cr + 7.6*Mo + 10.5*N",
    error=9.1,
    error_basis="rmse on 20 heats, bias -3.7 (calculated less measured), R2 0.69",
    check=Check(DUPLEX, 15.726),
    note=(
        "a mean of opposite errors, calculated less measured: duplex -11.3 C (4), austenitic +5.3 "
        "(7), superaustenitic -0.5 (14)"
    ),
)
_NICKEL_ALLOY.linear(
    "cct_g48_ni_base",
    "CCT of nickel-base alloys (G48 D start temperature)",
    "-36.2 + 1.5*Cr + 1.9*Mo + 4.9*Nb + 8.6*W",
    source=("astm_g48",),
    check=Check(NICKEL_ALLOY, 57.3),
)
_AUSTENITIC.linear(
    "cpt_brigham_1974",
    "CPT = 5 + 7Mo",
    "5 + 7*Mo",
    source=("brigham_tozer_1974",),
    domain="Cr 17-20; Mo 0.05-7.6; 10 % FeCl3.6H2O",
    error=8.4,
    error_basis="rmse on 34 uncensored heats, bias -5.4 (calculated less measured)",
    check=Check(AUSTENITIC, 21.1),
    note="reads 5 C low; cpt_brigham_refit (6.8 + 7.95Mo) misses by 6",
)

_FIT = CATALOGUE.group(families=groups.AUSTENITIC, status="computed-from-data", fitted=True)
_FIT.linear(
    "cpt_brigham_refit",
    "CPT = 6.8 + 7.95Mo (refit)",
    "6.8 + 7.95*Mo",
    source=("brigham_tozer_1974", "nyby_2021"),
    domain="Cr 17-20; Mo 0.05-7.6; 10 % FeCl3.6H2O",
    error=5.9,
    error_basis="rmse on 38 heats, R2 0.85",
    check=Check(AUSTENITIC, 25.085),
)
_AUSTENITIC.linear(
    "cct_brigham_1974",
    "CCT = -45 + 11Mo",
    "-45 + 11*Mo",
    source=("brigham_1974",),
    domain="Cr 17-20; 10 % FeCl3.6H2O",
    error=5.0,
    error_basis="author's +-5 C on the constant (memory)",
    check=Check(AUSTENITIC, -19.7),
)
_FIT.linear(
    "cct_brigham_refit",
    "CCT = -40.7 + 10.9Mo (refit)",
    "-40.7 + 10.9*Mo",
    source=("brigham_1974", "nyby_2021"),
    domain="Cr 17-20; 10 % FeCl3.6H2O",
    error=4.1,
    error_basis="rmse on 12 heats, R2 0.92",
    check=Check(AUSTENITIC, -15.63),
)
_FIT.linear(
    "cpt_fit_mo_n_mn_si",
    "CPT with manganese and silicon terms",
    "12.7 + 7.3*Mo - 7.3*Mn + 5.8*Si + 17.6*N",
    source=("brigham_tozer_1974", "nyby_2021"),
    domain="Mn 0.5-2; Si 0.3-1.5; Cr 17-20; 10 % FeCl3.6H2O",
    error=4.8,
    error_basis="rmse on 33 heats, R2 0.86; leave-one-out 5.7",
    check=Check(AUSTENITIC, 22.0698),
    note="use for the Mn and Si direction",
)

_PREN_W = _FIT.group(families=groups.AUSTENITIC_DUPLEX, source=("nyby_2021",), domain="PREN 27-47")
_PREN_W.linear(
    "cpt_fit_pren16w_fecl3",
    "FeCl3 CPT against PREN16W",
    "2.551*pren_16n_w - 47.3",
    ranges={"pren_16n_w": (27, 47)},
    error=6.8,
    error_basis="rmse on 44 heats, R2 0.79; leave-one-out 7.3",
    check=Check(DUPLEX, 44.17758),
    note="= 2.551 PREN16W - 47.3",
)
_PREN_W.linear(
    "cpt_fit_pren30w_fecl3",
    "FeCl3 CPT against PREN30W",
    "2.258*pren_30n_w - 41.2",
    ranges={"pren_30n_w": (27, 47)},
    error=7.3,
    error_basis="rmse on 44 heats",
    check=Check(DUPLEX, 45.20802),
    note="= 2.258 PREN30W - 41.2",
)
_FIT.linear(
    "cpt_fit_nacl_sun",
    "Potentiodynamic CPT in 1 M NaCl against PREN16",
    "-99 + 4.38*Cr + 14.454*Mo + 70.08*N",
    source=("sun_2018", "nyby_2021"),
    domain="316L; 317L; N08904; S31254",
    ranges={"Cr": (16.5, 21), "Ni": (10, 28), "Mo": (2, 6.5)},
    error_basis="4 alloys: no error figure",
    check=Check(AUSTENITIC, 26.69724),
    note="indicative only",
)
_FIT.linear(
    "cpt_fit_g150_typical",
    "G150 CPT against PREN16",
    "3.53*pren_16n - 69",
    families=groups.AUSTENITIC_DUPLEX,
    source=("g150_typical",),
    domain="eleven commercial grades",
    error=4.3,
    error_basis="rmse on 11 recalled typical values",
    check=Check(DUPLEX, 55.54546),
    note="fit to recalled values: memory grade",
)
_FIT.function(
    "cpt_fit_jargelius",
    "CPT in 0.2 M NaCl at +600 mV",
    "34.2 + 7.2*Mo - 1.8*Mn + 41.5*N + 5.1*Mo*N",
    source=("jargelius_1998", "nyby_2021"),
    domain="Cr 20; Ni 18-25; Mo 0-6; Mn 0.2-11; N <=0.5",
    error=5.2,
    error_basis="rmse on 17 heats, R2 0.90",
    check=Check(AUSTENITIC, 53.69699),
)

_EPIT = _FIT.group(families=(*groups.AUSTENITIC_DUPLEX, *groups.FERRITIC), source=("nyby_2021",))
_EPIT.function(
    "epit_fit_pren_t_cl",
    "Epit from PREN16W, temperature and chloride",
    "-140 + 19.6*Cr + 64.68*Mo + 313.6*N + 32.34*W - 2.45*temperature_C - 119*log10(chloride_M)",
    error=267.0,
    error_basis="rmse with whole papers held out, 432 rows of 40 papers, R2 0.31",
    check=Check(DUPLEX, 530.0639, conditions={"temperature_C": 41.0, "chloride_M": 0.27}),
    note="trend only; do not promise Epit from composition",
)
_EPIT.function(
    "epit_fit_elements",
    "Epit from elements, temperature and chloride",
    "-125 + 23.4*Cr + 60.4*Mo - 25.4*Mn + 466*N - 3.29*temperature_C - 113*log10(chloride_M)",
    error=255.0,
    error_basis="rmse with whole papers held out, 432 rows of 40 papers, R2 0.37",
    check=Check(DUPLEX, 558.7799, conditions={"temperature_C": 41.0, "chloride_M": 0.27}),
    note="trend only",
)
