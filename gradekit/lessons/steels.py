"""The invented steels of the course."""

from __future__ import annotations

#: Invented steels of the course, wt%.
STEELS: dict[str, dict[str, float]] = {
    "18Cr-8Ni": {"C": 0.04, "Si": 0.4, "Mn": 1.4, "Cr": 18.2, "Ni": 8.1, "Mo": 0.2, "N": 0.05,
                 "Cu": 0.3, "Nb": 0.01, "P": 0.03, "S": 0.003},
    "lean nickel": {"C": 0.05, "Si": 0.4, "Mn": 7.5, "Cr": 17.2, "Ni": 4.4, "Mo": 0.2, "N": 0.17,
                    "Cu": 0.3, "Nb": 0.01, "P": 0.03, "S": 0.003},
    "weld metal": {"C": 0.02, "Si": 0.5, "Mn": 1.6, "Cr": 19.6, "Ni": 10.0, "Mo": 0.2, "N": 0.05,
                   "Cu": 0.1, "Nb": 0.01, "P": 0.02, "S": 0.008},
    "23Cr-13Ni wire": {"C": 0.015, "Si": 0.5, "Mn": 1.6, "Cr": 23.5, "Ni": 13.0, "Mo": 0.1,
                       "N": 0.06, "Cu": 0.1, "Nb": 0.01},
    "mild steel": {"C": 0.15, "Si": 0.3, "Mn": 1.1, "Cr": 0.05, "Ni": 0.05, "Mo": 0.01, "N": 0.005,
                   "Cu": 0.05, "Nb": 0.0},
    "17Cr ferritic": {"C": 0.04, "Si": 0.4, "Mn": 0.5, "Cr": 16.4, "Ni": 0.2, "Mo": 0.02,
                      "N": 0.03, "Cu": 0.1, "Ti": 0.0},
    "13Cr martensitic": {"C": 0.21, "Si": 0.4, "Mn": 0.5, "Cr": 13.2, "Ni": 0.3, "Mo": 0.05,
                         "N": 0.02, "Cu": 0.1, "Ti": 0.0},
    "22Cr duplex": {"C": 0.02, "Si": 0.4, "Mn": 1.5, "Cr": 22.3, "Ni": 5.6, "Mo": 3.1, "N": 0.17,
                    "Cu": 0.2, "Ti": 0.0},
    "17Cr-12Ni-2Mo": {"C": 0.02, "Si": 0.5, "Mn": 1.2, "Cr": 16.8, "Ni": 10.6, "Mo": 2.1,
                      "N": 0.05, "Cu": 0.3},
}  # fmt: skip


def clean(name: str) -> dict[str, float]:
    """Return a steel of the course without the phosphorus and sulphur that no sum counts, wt%."""
    return {e: content for e, content in STEELS[name].items() if e not in ("P", "S")}
