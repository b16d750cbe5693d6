"""Contents of the steels that relations were made from, where the source names only the steel.

The ends are those of the standards' windows for these steels, wt%.
"""

#: '18-8 family', '304-type sheet', 'Cr-Ni slab': 301 to 305 and 316 with their variants.
EIGHTEEN_EIGHT = {"Cr": (16, 20), "Ni": (6, 13), "Mn": (None, 2)}
#: 'CF3; CF8; CF8M'.
CAST_CF = {"Cr": (17, 21), "Ni": (8, 13), "Mn": (None, 1.5), "Mo": (None, 3)}
#: '304-type slab', and measured on 39 castings of CF3, CF8 and CF8M.
SLAB = CAST_CF | {"Mn": (None, 2)}
#: Weld metal of the 300 series, whose fillers hold 1 to 2.5 Mn.
WELD_300 = {"Mn": (None, 2.5)}
#: Equivalents with 0.5 Mn: the authors of the WRC-1992 diagram state that Schaeffler and DeLong
#: treat manganese wrongly above this.
HALF_MN = {"Mn": (None, 4)}
#: '1.4404; 1.4435'.
BN2 = {"Cr": (16.5, 19), "Ni": (10, 15), "Mo": (2, 3)}
