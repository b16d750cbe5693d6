"""Lattice parameter and density."""

from gradekit.relations import groups
from gradekit.relations.declaration import Check
from gradekit.relations.topics._catalogue import CATALOGUE
from gradekit.relations.topics._checks import AUSTENITIC

_DYSON = CATALOGUE.group(families=groups.AUSTENITIC, status="memory", source=("dyson_holmes_1970",))
_DYSON.linear(
    "lattice_dyson_1970",
    "Austenite lattice parameter",
    (
        "3.578 + 0.0006*Cr - 0.0002*Ni + 0.0031*Mo + 0.00095*Mn + 0.033*C + 0.022*N + 0.0015*Cu "
        "+ 0.0051*Nb + 0.0039*Ti + 0.0018*V + 0.0018*W + 0.0056*Al - 0.0004*Co"
    ),
    quantity="lattice parameter, Å",
    check=Check(AUSTENITIC, 3.604533),
    note="Si taken as 0",
)
_DYSON.function(
    "density_dyson_1970",
    "Density of austenite from the lattice parameter",
    (
        "a = 3.578 + 0.033*C + 0.022*N + 0.00095*Mn + 0.0006*Cr - 0.0002*Ni + 0.0031*Mo + "
        "0.0015*Cu + 0.0051*Nb + 0.0039*Ti + 0.0018*V + 0.0018*W + 0.0056*Al - 0.0004*Co; "
        "n = Fe/55.845 + Cr/51.996 + Ni/58.693 + Mn/54.938 + Mo/95.95 + Si/28.085 + "
        "Cu/63.546 + Nb/92.906 + Ti/47.867 + V/50.942 + W/183.84 + Al/26.982 + Co/58.933 "
        "+ P/30.974 + S/32.06 + Ta/180.948; 400/(n*0.602214*a**3)"
    ),
    quantity="density, g/cm³",
    error=0.03,
    error_basis=(
        "S20910 7.884 against 7.88 published; 201 7.850 against 7.86; S21904 7.820 against 7.83"
    ),
    check=Check(AUSTENITIC, 7.92942),
    note=(
        "4 substitutional sites per cell; C, N and B are interstitial: their mass counts, "
        "their sites do not. Use 7.7 for ferritic, 7.8 for duplex"
    ),
)
