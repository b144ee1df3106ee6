"""A plant and its days in round numbers, so that a season can be followed by hand."""

from __future__ import annotations

import numpy as np

from phenocast.harvest import grow
from phenocast.phenology import daily as rows
from phenocast.phenology.plant import PLANT_DTYPE

PLAIN = {
    # induction: 10 days at the optimum, 2 either way between plants
    "induction_base": 0.0, "induction_optimum": 15.0, "induction_ceiling": 30.0,
    "induction_requirement": 10.0, "induction_spread": 0.2, "induction_store": 1.5,
    "induction_full_rate": 1.0, "supraoptimal_penalty": 0.0, "critical_photoperiod_18": 13.0,
    "critical_photoperiod_slope": 0.5, "photoperiod_width": 0.4, "long_day_neutral": 9.0,
    "long_day_plateau_from": 15.0, "long_day_plateau_to": 23.0, "long_day_obligate": 28.0,
    "long_day_plateau": 0.5,
    # established at once, nothing lost; a leaf in 60 degC d, a truss in four leaves
    "establishment_development": 0.0, "establishment_spread": 0.25, "plant_loss_heat_half": 120.0,
    "plant_loss_heat_scale": 30.0, "plant_loss_largest": 0.0, "plant_loss_days": 14.0,
    "phyllochron": 60.0, "leaves_per_truss": 4.0, "flowers_per_truss": 10.0,
    "branch_requirement": 100.0, "crowns_maximum": 4.0, "branch_photoperiod": 12.0,
    "crown_exponent": 0.5, "crowns_at_planting": 1.0, "vigour_memory": 20.0,
    "vigour_heat_loss": 0.0, "heat_sensitivity": 1.0,
    # 180 degC d to emergence, 120 to the open flower, 360 to the ripe fruit
    "initiation_to_anthesis": 300.0, "emergence_share": 0.6, "rank1_share": 1.0,
    "rank2_share": 0.0, "rank3_share": 0.0, "rank2_delay": 24.0, "rank3_delay": 48.0,
    "long_day_speed": 1.0, "long_day_speed_photoperiod": 14.0, "anthesis_to_ripe": 360.0,
    "rank2_ripening": 1.0, "rank3_ripening": 1.0, "ripening_spread": 0.1,
    "first_anthesis_flowers": 0.5,
    # rest, which no plant reaches without chill
    "rest_onset_chill": 40.0, "rest_onset_spread": 10.0, "rest_bud_ceiling": 0.8,
    "rest_truss_fall": 0.1, "rest_release_chill": 90.0, "rest_release_photoperiod": 13.0,
    "rest_release_warmth": 100.0, "rest_memory": 100.0, "initiation_after_rest": 1.0,
    "chill_carried": 0.0,
    # no loss by heat or load; fruit of 20 g
    "bud_heat_half": 240.0, "set_potential": 0.8, "set_heat_half": 130.0, "load_largest": 1e12,
    "load_cover": 0.5, "load_solar": 20.0, "fruit_mass_15": 20.0, "fruit_mass_slope": 0.0,
    "size_decline": 0.0, "rank1_mass": 1.0, "rank2_mass": 1.0, "rank3_mass": 1.0,
    "marketable_share": 0.9, "cull_mass": 10.0, "mass_spread": 0.3,
    "frost_bud": -5.5, "frost_popcorn": -2.2, "frost_open": -1.1, "frost_green": -2.2,
    "frost_half_below": 1.0, "frost_width": 0.3,
    # the transplant: nothing brought
    "trusses_at_planting": 0.0, "truss_progress": 0.0, "second_truss_progress": 0.0,
    "third_truss_progress": 0.0, "induction_carried": 0.0, "long_day_promoted": 0.0,
}  # fmt: skip
ONE_TRUSS = {"trusses_at_planting": 1.0, "truss_progress": 0.5}
"""A truss half way: 90 of 180 degC d to go."""


def plant_of(**changes):
    """Record of the plain plant with some numbers changed."""
    assert set(PLAIN) == set(PLANT_DTYPE.names)
    record = np.zeros(1, PLANT_DTYPE)
    for name, value in {**PLAIN, **changes}.items():
        record[name] = value
    return record.view(np.recarray)[0]


def days_of(n, **changes):
    """Daily table: 12 degC d a day in the crown and 10 in the air, long days, no heat, no cold.

    A change is a number, or a mapping over the plain days from a day, or from the first day and
    the one after the last, to a number.
    """
    table = np.zeros((rows.N_DAILY, n))
    plain = {
        "CROWN_DEVELOPMENT": 12.0, "AIR_DEVELOPMENT": 10.0, "CROWN_MEAN": 20.0, "AIR_MEAN": 15.0,
        "SOLAR": 20.0, "COVER": 0.5, "PHOTOPERIOD": 12.75, "FLOWER_MIN": 10.0,
    }  # fmt: skip
    for name, value in plain.items():
        table[getattr(rows, name)] = value
    for name, value in changes.items():
        row = table[getattr(rows, name)]
        for when, number in value.items() if isinstance(value, dict) else [((0, n), value)]:
            first, stop = when if isinstance(when, tuple) else (when, when + 1)
            row[first:stop] = number
    return table


def season_of(table, first_pick_g=3.0, **changes):
    """Grow the plain plant, changed, on a daily table."""
    return grow(table, plant_of(**changes), first_pick_g)
