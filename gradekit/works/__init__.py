"""Can the works make it: a module a step, from the charge to the finish."""

from gradekit.core.rooms import open_room

open_room(
    __name__,
    {
        "anneal.duplex_phases": "duplex_phases",
        "anneal.grain_growth": "grain_after",
        "cast.mould": "casting_temperatures",
        "cold.cold_rolling": "cold_schedule",
        "cold.martensite": "martensite",
        "finish.surface": "finish",
        "hot.flow": "flow_stress",
        "hot.hot_schedule": "hot_schedule",
        "inputs": "Inputs inputs middle_heat present_heats",
        "melt.aod": "refine",
        "melt.cheapest": "charge",
        "melt.gas": "nitrogen",
        "plant": "Plant read_plant typical_plant",
        "walk": "Route assess_route route_conditions walk_route",
    },
)
