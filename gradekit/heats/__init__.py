"""Heats: one batch of compositions, what travels beside it, reading and writing it."""

from gradekit.core.rooms import open_room

open_room(
    __name__,
    {
        "atomic": "to_atomic_percent to_weight_percent",
        "batch": "as_batch",
        "certificates.cells": "claims",
        "notes": "about bounds messages printed_limits",
        "reading": "read_heats read_heats_text",
        "report": "reading_report",
        "history": "dates_of drift stand_apart",
        "scatter": "Scatter estimate_scatter practices read_scatter",
        "writing": "write_heats write_tables",
    },
)
