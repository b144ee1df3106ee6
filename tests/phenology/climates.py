"""Daily tables of a climate from its monthly means: sine days, no weather, crown near the air.

For places whose records are not at hand. The monthly means are recalled from memory where a test
says so; what is checked on them is coarse.
"""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np

from phenocast.phenology import daily as rows
from phenocast.phenology.chamber import day_table
from phenocast.thermal_time import photoperiod_h


def climate_days(
    monthly_c,
    amplitude_c,
    latitude,
    first,
    n_days,
    cultivar,
    *,
    solar_mj=15.0,
    warmer_day_c=0.0,
    warmer_night_c=0.0,
    crown_above_c=0.0,
    sun_on_crown_c=0.0,
    cover=None,
):
    """Daily table from `first` on, `monthly_c` being the twelve monthly means of the air.

    A tunnel is `warmer_day_c` and `warmer_night_c`; the crown is `crown_above_c` above
    the air, and by day up to `sun_on_crown_c` more while the canopy leaves the film bare.
    """
    days = [first + timedelta(days=i) for i in range(n_days)]
    of_year = np.array([d.timetuple().tm_yday for d in days], dtype=float)
    middle = np.arange(12) * 365.25 / 12 + 15.2
    mean = np.interp(of_year, middle, monthly_c, period=365.25)
    hour = np.arange(24)
    wave = np.cos((hour - 14.0) * np.pi / 12.0)
    air = mean[:, None] + 0.5 * amplitude_c * wave[None, :]
    light = (hour >= 7) & (hour < 19)
    air = air + np.where(light, warmer_day_c, warmer_night_c)[None, :]
    photoperiod = photoperiod_h(
        np.array(days, dtype="datetime64[D]"), latitude, cultivar.value("photoperiod_sun_angle")
    )
    if cover is None:
        warmth = np.cumsum(np.clip(mean, 5.0, 26.0) - 5.0)
        cover = 0.7 / (1.0 + np.exp(-(warmth - 850.0) / 140.0))
    table = np.empty((rows.N_DAILY, n_days))
    for i in range(n_days):
        share = float(np.broadcast_to(cover, n_days)[i])
        sun = sun_on_crown_c * (1.0 - share / 0.7) * np.maximum(wave, 0.0)
        table[:, i] = day_table(
            air[i] + crown_above_c + sun, air[i], float(photoperiod[i]), solar_mj, share, cultivar
        )
    return table


def day_of(first: date, time_d: float) -> date:
    """Calendar day of a time since planting."""
    return first + timedelta(days=int(time_d))
