"""One record of numbers for each plant that is followed: cultivar, transplant and one draw of both.

The kernels read these records by field name, compiled and uncompiled alike. The names are those of
`calibration/cultivars.toml`, where every number has its unit, bounds and source.
"""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import numpy as np

from phenocast.errors import Fault, InputError, unknown_name
from phenocast.parameters import ParameterSet

CULTIVAR_FIELDS: tuple[str, ...] = (
    # induction: temperature, requirement, photoperiod
    "induction_base",
    "induction_optimum",
    "induction_ceiling",
    "induction_requirement",
    "induction_spread",
    "induction_store",
    "induction_full_rate",
    "supraoptimal_penalty",
    "critical_photoperiod_18",
    "critical_photoperiod_slope",
    "photoperiod_width",
    "long_day_neutral",
    "long_day_plateau_from",
    "long_day_plateau_to",
    "long_day_obligate",
    "long_day_plateau",
    # establishment, leaves, branch crowns, vigour, trusses
    "establishment_spread",
    "plant_loss_heat_half",
    "plant_loss_heat_scale",
    "plant_loss_largest",
    "plant_loss_days",
    "phyllochron",
    "leaves_per_truss",
    "flowers_per_truss",
    "branch_requirement",
    "crowns_maximum",
    "branch_photoperiod",
    "crown_exponent",
    "vigour_memory",
    "vigour_heat_loss",
    "heat_sensitivity",
    # from initiation to ripe fruit
    "initiation_to_anthesis",
    "emergence_share",
    "rank1_share",
    "rank2_share",
    "rank3_share",
    "rank2_delay",
    "rank3_delay",
    "long_day_speed",
    "long_day_speed_photoperiod",
    "anthesis_to_ripe",
    "rank2_ripening",
    "rank3_ripening",
    "ripening_spread",
    "first_anthesis_flowers",
    # winter rest
    "rest_onset_chill",
    "rest_onset_spread",
    "rest_bud_ceiling",
    "rest_truss_fall",
    "rest_release_chill",
    "rest_release_photoperiod",
    "rest_release_warmth",
    "rest_memory",
    "initiation_after_rest",
    # heat, load, size, market
    "bud_heat_half",
    "set_potential",
    "set_heat_half",
    "load_largest",
    "load_cover",
    "load_solar",
    "fruit_mass_15",
    "fruit_mass_slope",
    "size_decline",
    "rank1_mass",
    "rank2_mass",
    "rank3_mass",
    "marketable_share",
    "cull_mass",
    "mass_spread",
    # frost
    "frost_bud",
    "frost_popcorn",
    "frost_open",
    "frost_green",
    "frost_half_below",
    "frost_width",
)
TRANSPLANT_FIELDS: tuple[str, ...] = (
    "establishment_development",
    "crowns_at_planting",
    "trusses_at_planting",
    "truss_progress",
    "second_truss_progress",
    "third_truss_progress",
    "induction_carried",
    "chill_carried",
)
FLOWERING_TYPES = ("short-day", "day-neutral")

PLANT_FIELDS: tuple[str, ...] = ("long_day_promoted", *CULTIVAR_FIELDS, *TRANSPLANT_FIELDS)
PLANT_DTYPE = np.dtype([(name, np.float64) for name in PLANT_FIELDS])


def plant_records(
    cultivar: ParameterSet,
    transplant: ParameterSet,
    *,
    n_draws: int | None = None,
    seed: int = 0,
) -> np.recarray[Any, Any]:
    """Put a cultivar and a transplant type into records that the kernels read.

    Parameters
    ----------
    cultivar : a cultivar merged with what the species shares (`phenocast.parameters.cultivars`).
    transplant : a transplant type (`phenocast.parameters.transplants`).
    n_draws : how many draws from the stated spreads; None for the central values alone.
    seed : seed of the draws.

    Returns
    -------
    record array ``[n_draws]``, or ``[1]`` with the central values; fields in `PLANT_FIELDS`.

    Raises
    ------
    InputError
        A parameter that is missing, a flowering type that is unknown, or temperatures out of order.

    Examples
    --------
    >>> from phenocast.parameters import cultivars, transplants
    >>> plant = plant_records(cultivars()["Basalt"], transplants()["plug"])[0]
    >>> plant.heat_sensitivity, plant.trusses_at_planting
    (np.float64(1.0), np.float64(0.0))
    """
    flowering = cultivar.labels.get("flowering", "")
    if flowering not in FLOWERING_TYPES:
        raise InputError(
            unknown_name("flowering type", flowering, FLOWERING_TYPES, f"{cultivar.name}.flowering")
        )
    missing = [
        unknown_name("parameter", name, kept, kept.name)
        for names, kept in ((CULTIVAR_FIELDS, cultivar), (TRANSPLANT_FIELDS, transplant))
        for name in names
        if name not in kept
    ]
    if missing:
        raise InputError(missing)
    if n_draws is None:
        records = np.zeros(1, dtype=PLANT_DTYPE)
        for name in CULTIVAR_FIELDS:
            records[name] = cultivar.value(name)
        for name in TRANSPLANT_FIELDS:
            records[name] = transplant.value(name)
    else:
        records = np.zeros(n_draws, dtype=PLANT_DTYPE)
        for names, kept in ((CULTIVAR_FIELDS, cultivar), (TRANSPLANT_FIELDS, transplant)):
            drawn = kept.draw(seed, n_draws)
            for name in names:
                records[name] = drawn[name]
    records["long_day_promoted"] = 1.0 if flowering == "day-neutral" else 0.0
    _check_order(records, cultivar.name)
    return records.view(np.recarray)


def _check_order(records: np.ndarray[Any, Any], name: str) -> None:
    """Refuse cardinal temperatures that are out of order in any record."""
    orders = (
        ("induction_base", "induction_optimum", "induction_ceiling"),
        (
            "long_day_neutral",
            "long_day_plateau_from",
            "long_day_plateau_to",
            "long_day_obligate",
        ),
    )
    faults = [
        Fault(f"{low} is not below {high}", where=name, allowed=" < ".join(order))
        for order in orders
        for low, high in pairwise(order)
        if not np.all(records[low] < records[high])
    ]
    if faults:
        raise InputError(faults)
