"""The crown table as one document: the mean day and the weeks of each bed, side by side."""

from __future__ import annotations

from datetime import date
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from phenocast import __version__
from phenocast.forecast.assumptions import assumed_numbers
from phenocast.forecast.result import SCHEMA_VERSION
from phenocast.harvest import iso_week
from phenocast.season import Block, Season
from phenocast.simulation.setup import block_setup
from phenocast.weather.local_time import local_day_and_clock, standard_offset_h

HEAT_FROM_C = 30.0
COMPARED_DAYS = 28
"""Days over which the mean day is taken: the first four weeks that all blocks share."""
OF_THE_DAY = ("air_c", "film_surface_c", "crown_c", "soil_5cm_c", "soil_10cm_c")


def crown_document(
    season: Season,
    table: pd.DataFrame,
    *,
    issue_date: date,
    observed_until: date | None,
) -> dict[str, Any]:
    """Return the crown table of a season as plain values.

    Parameters
    ----------
    season : Season
    table : DataFrame
        From `phenocast.forecast.crown_table`: every block under one course of weather, at the
        central value of every parameter; the name of the course stands in its ``attrs``.
    issue_date : date
        Last day whose observed weather was used.
    observed_until : date or None
        Last observed day that was used.

    Returns
    -------
    dict
        ``compared`` has the days that the mean days are taken over, the same for every block; None
        where the blocks share no day. A block has ``crown`` (highest temperature and when in local
        standard time, hours and degree-hours above 30 degC), ``mean_day`` (24 rows, the hours of
        local standard time; empty where no day is shared) and ``weekly``. [degC, h, degC h, 0 to 1]
    """
    blocks = {block.name: block for block in season.blocks}
    parts = dict(iter(table.groupby("block", sort=False)))
    days = {
        name: local_day_and_clock(
            part["time_utc"].to_numpy().astype("datetime64[h]"),
            standard_offset_h(season.site.time_zone, blocks[str(name)].planting_date.year),
        )
        for name, part in parts.items()
    }
    first = max(found[0][0] for found in days.values())
    last = min(*(found[0][-1] for found in days.values()), first + COMPARED_DAYS - 1)
    shared = bool(last >= first)
    site = season.site
    return {
        "schema_version": SCHEMA_VERSION,
        "kind": "crown",
        "engine_version": __version__,
        "issue_date": issue_date.isoformat(),
        "site": {
            "name": site.name,
            "latitude": site.latitude,
            "longitude": site.longitude,
            "elevation_m": site.elevation_m,
            "time_zone": site.time_zone,
        },
        "weather": {
            "course": str(table.attrs["course"]),
            "observed_until": observed_until.isoformat() if observed_until else None,
            "filled_hours": int((table["filled"] > 0).sum() // max(1, len(parts))),
        },
        "compared": {"from": str(first), "to": str(last)} if shared else None,
        "blocks": [
            _block(blocks[str(name)], part, *days[name], (first, last))
            for name, part in parts.items()
        ],
        "assumptions": [
            one
            for one in assumed_numbers([block_setup(season, block) for block in season.blocks])
            if one["set"].split()[0] in {"film", "bed", "soil"}
        ],
        "warnings": list(season.warnings),
    }


def _block(
    block: Block,
    part: pd.DataFrame,
    day: NDArray[np.datetime64],
    clock: NDArray[np.float64],
    compared: tuple[np.datetime64, np.datetime64],
) -> dict[str, Any]:
    """One bed: its highest hour, its heat, its mean day and its weeks."""
    crown = part["crown_c"].to_numpy()
    heat = np.maximum(crown - HEAT_FROM_C, 0.0)
    hottest = int(np.argmax(crown))
    within = (day >= compared[0]) & (day <= compared[1])
    return {
        "block": block.name,
        "cultivar": block.cultivar,
        "film": block.film,
        "planting_date": block.planting_date.isoformat(),
        "last_day": str(day[-1]),
        "crown": {
            "max_c": round(float(crown[hottest]), 1),
            "max_day": str(day[hottest]),
            "max_hour": int(clock[hottest]),
            "hours_above_30c": int((heat > 0.0).sum()),
            "degree_hours_above_30c": round(float(heat.sum())),
        },
        "mean_day": _mean_day(part[within], clock[within]) if within.any() else [],
        "weekly": _weeks(part, day, heat),
    }


def _mean_day(part: pd.DataFrame, clock: NDArray[np.float64]) -> list[dict[str, Any]]:
    """Mean temperature of each hour of local standard time."""
    means = part[list(OF_THE_DAY)].groupby(np.floor(clock).astype(int)).mean().round(1)
    return [
        {"hour": int(str(hour)), **{name: float(row[name]) for name in OF_THE_DAY}}
        for hour, row in means.iterrows()
    ]


def _weeks(
    part: pd.DataFrame, day: NDArray[np.datetime64], heat: NDArray[np.float64]
) -> list[dict[str, Any]]:
    """What each ISO week brought."""
    days = np.unique(day)
    weeks = {str(one): iso_week(date.fromisoformat(str(one))) for one in days}
    labels = np.array([weeks[str(one)] for one in days])[np.searchsorted(days, day)]
    rows = []
    for label in dict.fromkeys(labels.tolist()):
        of_week = labels == label
        own = part[of_week]
        rows.append(
            {
                "week": label,
                "air_mean_c": _rounded(own["air_c"].mean()),
                "crown_mean_c": _rounded(own["crown_c"].mean()),
                "crown_max_c": _rounded(own["crown_c"].max()),
                "soil_10cm_mean_c": _rounded(own["soil_10cm_c"].mean()),
                "soil_10cm_max_c": _rounded(own["soil_10cm_c"].max()),
                "degree_hours_above_30c": round(float(heat[of_week].sum())),
                "canopy_cover": round(float(own["canopy_cover"].mean()), 2),
            }
        )
    return rows


def _rounded(value: float) -> float:
    return round(float(value), 1)
