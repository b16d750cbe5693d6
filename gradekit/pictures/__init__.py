"""Every drawing; matplotlib is imported here only."""

from gradekit.core.rooms import open_room

open_room(
    __name__,
    {
        "comparing": "intervals scatter_fit",
        "curves": "bars lines",
        "draw": "draw",
        "fit_chart": "fit_chart",
        "freezing": "freezing_modes",
        "melt_and_strain": "martensite_under_strain nitrogen_in_melt",
        "microstructures": "microstructures",
        "phase_charts": "iron_carbon iron_chromium_nickel",
        "route_chart": "route_chart",
        "space_map": "space_map",
        "temperature_chart": "estimate_chart",
        "works_maps": "aod_path cold_map nitrogen_map",
    },
)
