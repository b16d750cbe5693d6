"""Reference steels at which the relations are checked: every term non-zero and distinct, wt%."""


def steel(contents: str) -> dict[str, float]:
    """Return a composition written as 'Cr 22.0, Ni 9.0'."""
    return {e: float(x) for e, x in (part.split() for part in contents.split(", "))}


AUSTENITIC = steel(
    "C 0.037, N 0.113, Si 0.53, Mn 1.71, P 0.023, S 0.004, Cr 19.3, Ni 9.7, Mo 2.3, Cu 0.41, "
    "Nb 0.29, Ti 0.19, V 0.083, W 0.62, Al 0.071, Co 0.167, Ta 0.059, B 0.0031"
)
DUPLEX = steel(
    "C 0.021, N 0.172, Si 0.43, Mn 1.37, P 0.022, S 0.002, Cr 22.3, Ni 5.7, Mo 3.1, Cu 0.21, "
    "Nb 0.013, Ti 0.011, V 0.06, W 0.35, Al 0.017, Co 0.09, Ta 0.005, B 0.0027"
)
MARTENSITIC = steel(
    "C 0.118, N 0.031, Si 0.38, Mn 0.57, P 0.021, S 0.0045, Cr 12.3, Ni 1.9, Mo 0.84, Cu 0.15, "
    "Nb 0.047, Ti 0.009, V 0.22, W 0.41, Al 0.026, Co 0.33, Ta 0.008, B 0.0025"
)
LOW_NICKEL = steel(
    "C 0.06, N 0.21, Si 0.44, Mn 7.4, P 0.031, S 0.0035, Cr 16.9, Ni 1.6, Mo 0.13, Cu 2.7, "
    "Nb 0.012, Ti 0.008, V 0.07, W 0.02, Al 0.009, Co 0.05, Ta 0.004, B 0.0022"
)
FERRITIC = steel(
    "C 0.017, N 0.013, Si 0.47, Mn 0.39, P 0.024, S 0.003, Cr 17.6, Ni 0.23, Mo 1.15, Cu 0.11, "
    "Nb 0.33, Ti 0.21, V 0.07, W 0.08, Al 0.033, Co 0.027, Ta 0.006, B 0.0012"
)
NICKEL_ALLOY = steel(
    "C 0.012, N 0.02, Si 0.06, Mn 0.4, P 0.008, S 0.001, Cr 21.6, Ni 60.0, Mo 9.1, Cu 0.1, "
    "Nb 3.5, Ti 0.19, V 0.03, W 3.1, Al 0.18, Co 0.3, Ta 0.05, B 0.002"
)
CAST_CF8 = steel("C 0.049, N 0.041, Si 1.07, Mn 0.58, Cr 20.2, Ni 8.4, Mo 0.31")
CAST_CF8M = steel("C 0.049, N 0.041, Si 0.67, Mn 0.58, Cr 19.7, Ni 9.4, Mo 2.4")
#: A 316 of which a publication prints what several relations give.
PRINTED_316 = steel("C 0.066, N 0.069, Si 0.42, Mn 1.67, Cr 16.87, Ni 12.34, Mo 2.49")
#: What is added to a base, for relations that say what a change does.
ADDED = steel(
    "C 0.011, N 0.007, Si 0.13, Mn 0.21, Cr 0.6, Ni 0.34, Mo 0.45, Cu 0.05, V 0.09, W 0.31, "
    "Al 0.017, Co 0.26"
)
