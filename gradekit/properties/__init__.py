"""Properties: fitted to a user's tests, estimated from model cards, and the cards made anew."""

from gradekit.core.rooms import open_room

open_room(
    __name__,
    {
        "calibrate.correct": "calibrate",
        "estimate.best": "estimate",
        "estimate.cards": "model_card",
        "physical": "physical_properties",
        "fit.fitted": "fit_property fitted_from register",
        "fit.laboratory": "lab_tests",
    },
)
