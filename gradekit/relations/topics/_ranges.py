"""Contents of the steels that relations were made from, where the source names only the steel.

The ends are those of the standards' windows for these steels, wt%.
"""

#: '18-8 family', '304-type sheet': 301 to 305 with their variants.
EIGHTEEN_EIGHT = {"Cr": (16, 20), "Ni": (6, 13), "Mn": (None, 2)}
#: '304-type slab'.
TYPE_304 = {"Cr": (17.5, 20), "Ni": (8, 12), "Mn": (None, 2), "Mo": (None, 0.75)}
#: 'CF3; CF8; CF8M'.
CAST_CF = {"Cr": (17, 21), "Ni": (8, 13), "Mn": (None, 1.5), "Mo": (None, 3)}
#: '1.4404; 1.4435'.
BN2 = {"Cr": (16.5, 19), "Ni": (10, 15), "Mo": (2, 3)}
