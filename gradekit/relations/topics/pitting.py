"""Pitting indices, critical temperatures and pitting potential."""

from gradekit.relations import groups
from gradekit.relations.declaration import Check
from gradekit.relations.topics._catalogue import CATALOGUE
from gradekit.relations.topics._checks import AUSTENITIC, DUPLEX, FERRITIC, LOW_NICKEL, NICKEL_ALLOY

_PREN = CATALOGUE.group(quantity="pitting resistance equivalent, 1")
_CPT = CATALOGUE.group(quantity="critical pitting temperature, °C")
_CCT = CATALOGUE.group(quantity="critical crevice temperature, °C")

# Free-machining steel holds ten times as much: it pits at its sulphides, whatever else it holds.
_CLEAN = {"S": (None, 0.03)}

_PREN.linear(
    "pren_16n",
    "PREN with 16N",
    "Cr + 3.3*Mo + 16*N",
    families=(*groups.AUSTENITIC, *groups.DUPLEX),
    status="verified",
    source=("truman_1987", "imoa_steel_grades"),
    check=Check(DUPLEX, 35.282),
    note="default; rank inside one family only",
)
_PREN.linear(
    "pren_16n_w",
    "PREN with 16N and tungsten",
    "pren_16n + 1.65*W",
    families=(*groups.AUSTENITIC, *groups.DUPLEX),
    status="verified",
    source=("okamoto_1992", "imoa_steel_grades"),
    check=Check(DUPLEX, 35.8595),
    note="W = half of Mo; ISO 15156-3 F_PREN; W super duplex",
)
_PREN.linear(
    "pre_ferritic",
    "PRE of ferritic grades, no nitrogen",
    "Cr + 3.3*Mo + 1.65*W",
    families=groups.FERRITIC,
    status="verified",
    source=("lorenz_medawar_1969", "imoa_steel_grades"),
    check=Check(FERRITIC, 21.527),
)
_PREN.linear(
    "pren_27n",
    "PREN with 27N",
    "Cr + 3.3*Mo + 27*N",
    families=groups.AUSTENITIC,
    status="verified",
    source=("pren_trade_article",),
    check=Check(AUSTENITIC, 29.941),
)
_PREN.linear(
    "pren_30n",
    "PREN with 30N (Wirksumme)",
    "Cr + 3.3*Mo + 30*N",
    families=(*groups.AUSTENITIC, *groups.DUPLEX),
    status="verified",
    source=("herbsleb_1982", "pren_trade_article"),
    check=Check(DUPLEX, 37.69),
    note="conflicting practice with 16N; 16N fits 44 FeCl3 heats slightly better",
)
_PREN.linear(
    "pren_13n",
    "PREN with 13N",
    "Cr + 3.3*Mo + 13*N",
    families=groups.AUSTENITIC,
    status="secondary",
    source=("suutala_kurkela_1984",),
    check=Check(AUSTENITIC, 28.359),
)
_PREN.linear(
    "pren_30n_w",
    "PREN with 30N and tungsten",
    "pren_30n + 1.65*W",
    families=groups.DUPLEX,
    status="memory",
    source=("okamoto_1992",),
    check=Check(DUPLEX, 38.2675),
)
_PREN.linear(
    "pren_mn_rondelli_1995",
    "PREN with 30N and manganese penalty",
    "Cr + 3.3*Mo - Mn + 30*N",
    families=(*groups.AUSTENITIC, *groups.DUPLEX),
    status="memory",
    source=("rondelli_1995",),
    check=Check(LOW_NICKEL, 16.229),
    note=(
        "best of four variants as one-term CPT predictor on 17 heats 20Cr-(18-25)Ni in "
        "0.2 M NaCl (RMSE 5.6 C); use beside pren_16n when Mn > 3 or N > 0.2"
    ),
)
_PREN.function(
    "pren_jargelius_1998",
    "PREN of high-N superaustenitic steels",
    "Cr + 3.3*Mo - 1.6*Mn + 36*N + 7*Mo*N",
    families=groups.AUSTENITIC,
    status="memory",
    source=("jargelius_1998",),
    domain="Cr 20; Ni 18-25; Mo 0-6; Mn 0.2-11; N <=0.5",
    check=Check(AUSTENITIC, 30.0413),
    note="as one-term CPT predictor on 17 heats 20Cr-(18-25)Ni in 0.2 M NaCl: RMSE 7.3 C",
)
_PREN.linear(
    "marc_speidel_2003",
    "MARC index of C+N steels",
    "Cr - 0.25*Ni + 3.3*Mo - 0.5*Mn + 20*C + 20*N",
    families=groups.AUSTENITIC,
    status="memory",
    source=("speidel_2003",),
    domain="C+N Ni-free or low-Ni austenitic; C only if dissolved",
    check=Check(LOW_NICKEL, 18.629),
)
_PREN.linear(
    "pren_sp",
    "Pitting index with sulphur and phosphorus",
    "Cr + 3.3*Mo + 30*N - 123*P - 123*S",
    families=groups.AUSTENITIC,
    status="memory",
    source=("pren_sp_review",),
    check=Check(AUSTENITIC, 26.959),
    note="low confidence; do not use for decisions",
)
_PREN.linear(
    "pren_ni_base",
    "PREN of nickel-base alloys",
    "Cr + 1.5*Mo + 30*N + 1.5*Nb + 1.5*W",
    families=("nickel alloy",),
    status="memory",
    source=("producer_literature",),
    check=Check(
        NICKEL_ALLOY,
        45.75,
    ),
    note="not for stainless steels",
)
_CPT.linear(
    "cpt_g48",
    "CPT in 6 % FeCl3 + 1 % HCl (G48 start temperature)",
    "-41 + 2.5*Cr + 7.6*Mo + 31.9*N",
    families=(*groups.AUSTENITIC, *groups.DUPLEX),
    status="memory",
    source=("astm_g48", "nyby_2021"),
    domain="not stated; S up to 0.03, as in the measured heats",
    ranges=_CLEAN,
    error=7.1,
    error_basis="rmse on 44 immersion heats, bias -0.7, R2 0.78",
    check=Check(DUPLEX, 43.7968),
    note=(
        "a guide to the starting temperature of the test, not a forecast; a mean of opposite "
        "errors, calculated less measured: 2205 +6 to +8 C; quote +-15 C"
    ),
)
_CCT.linear(
    "cct_g48",
    "CCT in 6 % FeCl3 (G48 F start temperature)",
    "-81 + 3.2*Cr + 7.6*Mo + 10.5*N",
    families=(*groups.AUSTENITIC, *groups.DUPLEX),
    status="memory",
    source=("astm_g48", "nyby_2021"),
    domain="not stated; S up to 0.03, as in the measured heats",
    ranges=_CLEAN,
    error=9.1,
    error_basis="rmse on 20 heats, bias -3.7 (calculated less measured), R2 0.69",
    check=Check(DUPLEX, 15.726),
    note=(
        "a mean of opposite errors, calculated less measured: duplex -11.3 C (4), austenitic +5.3 "
        "(7), superaustenitic -0.5 (14)"
    ),
)
_CCT.linear(
    "cct_g48_ni_base",
    "CCT of nickel-base alloys (G48 D start temperature)",
    "-36.2 + 1.5*Cr + 1.9*Mo + 4.9*Nb + 8.6*W",
    families=("nickel alloy",),
    status="memory",
    source=("astm_g48",),
    check=Check(
        NICKEL_ALLOY,
        57.3,
    ),
    note="not for stainless steels",
)
_CPT.linear(
    "cpt_brigham_1974",
    "CPT = 5 + 7Mo",
    "5 + 7*Mo",
    families=groups.AUSTENITIC,
    status="memory",
    source=("brigham_tozer_1974",),
    domain="Cr 17-20; Mo 0.05-7.6; 10 % FeCl3.6H2O",
    error=8.4,
    error_basis="rmse on 34 uncensored heats, bias -5.4 (calculated less measured)",
    check=Check(AUSTENITIC, 21.1),
    note="reads 5 C low; cpt_brigham_refit (6.8 + 7.95Mo) misses by 6",
)
_CPT.linear(
    "cpt_brigham_refit",
    "CPT = 6.8 + 7.95Mo (refit)",
    "6.8 + 7.95*Mo",
    families=groups.AUSTENITIC,
    status="computed-from-data",
    source=("brigham_tozer_1974", "nyby_2021"),
    domain="Cr 17-20; Mo 0.05-7.6; 10 % FeCl3.6H2O",
    error=5.9,
    error_basis="rmse on 38 heats, R2 0.85",
    fitted=True,
    check=Check(AUSTENITIC, 25.085),
)
_CCT.linear(
    "cct_brigham_1974",
    "CCT = -45 + 11Mo",
    "-45 + 11*Mo",
    families=groups.AUSTENITIC,
    status="memory",
    source=("brigham_1974",),
    domain="Cr 17-20; 10 % FeCl3.6H2O",
    error=5.0,
    error_basis="author's +-5 C on the constant (memory)",
    check=Check(AUSTENITIC, -19.7),
)
_CCT.linear(
    "cct_brigham_refit",
    "CCT = -40.7 + 10.9Mo (refit)",
    "-40.7 + 10.9*Mo",
    families=groups.AUSTENITIC,
    status="computed-from-data",
    source=("brigham_1974", "nyby_2021"),
    domain="Cr 17-20; 10 % FeCl3.6H2O",
    error=4.1,
    error_basis="rmse on 12 heats, R2 0.92",
    fitted=True,
    check=Check(AUSTENITIC, -15.63),
)
_CPT.linear(
    "cpt_fit_mo_n_mn_si",
    "CPT with manganese and silicon terms",
    "12.7 + 7.3*Mo - 7.3*Mn + 5.8*Si + 17.6*N",
    families=groups.AUSTENITIC,
    status="computed-from-data",
    source=("brigham_tozer_1974", "nyby_2021"),
    domain="Mn 0.5-2; Si 0.3-1.5; Cr 17-20; 10 % FeCl3.6H2O",
    error=4.8,
    error_basis="rmse on 33 heats, R2 0.86; leave-one-out 5.7",
    fitted=True,
    check=Check(AUSTENITIC, 22.0698),
    note="use for the Mn and Si direction",
)
_CPT.linear(
    "cpt_fit_pren16w_fecl3",
    "FeCl3 CPT against PREN16W",
    "2.551*pren_16n_w - 47.3",
    families=(*groups.AUSTENITIC, *groups.DUPLEX),
    status="computed-from-data",
    source=("nyby_2021",),
    domain="PREN 27-47",
    ranges={"pren_16n_w": (27, 47)},
    error=6.8,
    error_basis="rmse on 44 heats, R2 0.79; leave-one-out 7.3",
    fitted=True,
    check=Check(DUPLEX, 44.17758),
    note="= 2.551 PREN16W - 47.3",
)
_CPT.linear(
    "cpt_fit_pren30w_fecl3",
    "FeCl3 CPT against PREN30W",
    "2.258*pren_30n_w - 41.2",
    families=(*groups.AUSTENITIC, *groups.DUPLEX),
    status="computed-from-data",
    source=("nyby_2021",),
    domain="PREN 27-47",
    ranges={"pren_30n_w": (27, 47)},
    error=7.3,
    error_basis="rmse on 44 heats",
    fitted=True,
    check=Check(DUPLEX, 45.20802),
    note="= 2.258 PREN30W - 41.2",
)
_CPT.linear(
    "cpt_fit_nacl_sun",
    "Potentiodynamic CPT in 1 M NaCl against PREN16",
    "-99 + 4.38*Cr + 14.454*Mo + 70.08*N",
    families=groups.AUSTENITIC,
    status="computed-from-data",
    source=("sun_2018", "nyby_2021"),
    domain="316L; 317L; N08904; S31254",
    ranges={"Cr": (16.5, 21), "Ni": (10, 28), "Mo": (2, 6.5)},
    error_basis="4 alloys: no error figure",
    fitted=True,
    check=Check(AUSTENITIC, 26.69724),
    note="indicative only",
)
_CPT.linear(
    "cpt_fit_g150_typical",
    "G150 CPT against PREN16",
    "3.53*pren_16n - 69",
    families=(*groups.AUSTENITIC, *groups.DUPLEX),
    status="computed-from-data",
    source=("g150_typical",),
    domain="eleven commercial grades",
    error=4.3,
    error_basis="rmse on 11 recalled typical values",
    fitted=True,
    check=Check(DUPLEX, 55.54546),
    note="fit to recalled values: memory grade",
)
_CPT.function(
    "cpt_fit_jargelius",
    "CPT in 0.2 M NaCl at +600 mV",
    "34.2 + 7.2*Mo - 1.8*Mn + 41.5*N + 5.1*Mo*N",
    families=groups.AUSTENITIC,
    status="computed-from-data",
    source=("jargelius_1998", "nyby_2021"),
    domain="Cr 20; Ni 18-25; Mo 0-6; Mn 0.2-11; N <=0.5",
    error=5.2,
    error_basis="rmse on 17 heats, R2 0.90",
    fitted=True,
    check=Check(AUSTENITIC, 53.69699),
)
CATALOGUE.function(
    "epit_fit_pren_t_cl",
    "Epit from PREN16W, temperature and chloride",
    "-140 + 19.6*Cr + 64.68*Mo + 313.6*N + 32.34*W - 2.45*temperature_C - 119*log10(chloride_M)",
    quantity="pitting potential, mV SCE",
    families=(*groups.AUSTENITIC, *groups.DUPLEX, *groups.FERRITIC),
    status="computed-from-data",
    source=("nyby_2021",),
    error=267.0,
    error_basis="rmse with whole papers held out, 432 rows of 40 papers, R2 0.31",
    fitted=True,
    check=Check(DUPLEX, 530.0639, conditions={"temperature_C": 41.0, "chloride_M": 0.27}),
    note="trend only; do not promise Epit from composition",
)
CATALOGUE.function(
    "epit_fit_elements",
    "Epit from elements, temperature and chloride",
    "-125 + 23.4*Cr + 60.4*Mo - 25.4*Mn + 466*N - 3.29*temperature_C - 113*log10(chloride_M)",
    quantity="pitting potential, mV SCE",
    families=(*groups.AUSTENITIC, *groups.DUPLEX, *groups.FERRITIC),
    status="computed-from-data",
    source=("nyby_2021",),
    error=255.0,
    error_basis="rmse with whole papers held out, 432 rows of 40 papers, R2 0.37",
    fitted=True,
    check=Check(DUPLEX, 558.7799, conditions={"temperature_C": 41.0, "chloride_M": 0.27}),
    note="trend only",
)
