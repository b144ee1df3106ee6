"""What one would write instead: a plain pandas and NumPy script for the same job.

It is the yardstick of the speed ratios, nothing of the package uses it and it uses nothing of the
package. It is written as a competent person would write it in a day: the hours are a Python loop,
and each line of that loop works on all past years and all beds at once. Six blocks of the demo,
their films, 20 past years, 200 draws of the plant on as few draws of the bed a year as the package
runs: crown temperature hour by hour, heat above 30 degC, flower initiation, anthesis, first pick
with a probability per ISO week, and fruit per week. `plain_numba.py` is the same job as loops that
numba compiles.

    python tests/benchmarks/plain_script.py demo_weather/tamarind_coast.parquet

Left out against the package: gaps and units, stripes and shoulders, sprinkling, shelter, dormancy,
frost, plant loss, transplant types beyond one number, ageing of films, faults told in words.
The numbers are those of a first guess; this script is for time, not for truth.
"""

import argparse
import time

import numpy as np
import pandas as pd

SIGMA = 5.670374e-8
LATITUDE = 29.3
SEASON_DAYS = 240
BEDS = 4  # draws of the bed a year, as the package has for 20 years and 200 draws
BURN_IN_DAYS = 10  # of bare film, so that the soil has its own temperature at planting

# solar absorptance, longwave emittance
FILMS = {
    "black": (0.95, 0.85),
    "white-on-black": (0.50, 0.85),
    "silver": (0.62, 0.75),
    "metallised-striped": (0.40, 0.50),
    "white-striped": (0.50, 0.80),
}
# induction: base, optimum, ceiling [degC], requirement [days]; trusses already there at planting
CULTIVARS = {
    "Marl": (2.0, 18.0, 28.5, 14.0),
    "Gneiss": (2.0, 18.0, 31.5, 14.0),
    "Basalt": (2.0, 18.0, 29.0, 16.0),
    "Tuff": (2.0, 19.0, 32.0, 12.0),
}
BLOCKS = [
    ("Quay East", "Marl", "black", "09-25"),
    ("Quay West", "Marl", "metallised-striped", "09-25"),
    ("Saltpan", "Gneiss", "white-on-black", "09-30"),
    ("Lime Kiln", "Basalt", "black", "10-12"),
    ("Gull Field", "Basalt", "silver", "10-05"),
    ("Rope Walk", "Tuff", "white-striped", "10-01"),
]


def past_seasons(weather, first_day, years):
    """Stack the same season of each past year: dict of arrays [n_hours, n_years]."""
    hours = (BURN_IN_DAYS + SEASON_DAYS) * 24
    begin = weather["time"].iloc[0]
    stacks = {name: [] for name in weather.columns if name != "time"}
    used = 0
    for year in range(begin.year, begin.year + years + 2):
        at = pd.Timestamp(f"{year}-{first_day}") - pd.Timedelta(days=BURN_IN_DAYS)
        row = int((at - begin) / pd.Timedelta(hours=1))
        if row < 0 or row + hours > len(weather) or used == years:
            continue
        used += 1
        for name, parts in stacks.items():
            parts.append(weather[name].to_numpy()[row : row + hours])
    if used < years:
        raise SystemExit(f"only {used} whole past seasons from {first_day}, wanted {years}")
    return {name: np.stack(parts, axis=1) for name, parts in stacks.items()}


def sky_longwave(air, dew, solar):
    """Brutsaert sky with cloud from a rough clear sky, carried through the night [W m-2]."""
    kelvin = air + 273.15
    vapour_hpa = 6.108 * np.exp(17.27 * dew / (dew + 237.3))
    clear = 1.24 * (vapour_hpa / kelvin) ** (1.0 / 7.0)
    days = solar.reshape(-1, 24, solar.shape[1])
    brightest = pd.DataFrame(days.max(axis=1)).rolling(31, min_periods=1, center=True).max()
    cloud = np.clip(1.0 - days.max(axis=1) / brightest.to_numpy(), 0.0, 1.0).repeat(24, axis=0)
    return (clear * (1.0 - 0.84 * cloud) + 0.84 * cloud) * SIGMA * kelvin**4


def canopy(air):
    """Canopy cover [n_hours, n_years] from warmth above 5 degC since eight days after planting."""
    warmth = np.clip(air, 5.0, 26.0) - 5.0
    warmth[: (BURN_IN_DAYS + 8) * 24] = 0.0
    return 0.70 / (1.0 + np.exp(-(np.cumsum(warmth, axis=0) / 24.0 - 850.0) / 140.0))


def bed_draws(film, beds, rng):
    """Absorptance, emittance, slope of the wind and weight of the soil, [beds] each."""
    absorptance, emittance = FILMS[film]
    return (
        np.clip(rng.normal(absorptance, 0.04, beds), 0.05, 0.97),
        np.clip(rng.normal(emittance, 0.05, beds), 0.05, 0.97),
        np.clip(rng.normal(5.0, 0.7, beds), 3.0, 7.0),
        np.clip(rng.normal(0.59, 0.08, beds), 0.2, 0.7),
    )


def drivers(season):
    """Sky longwave, canopy cover and deep soil, [n_hours, n_years] each."""
    air = season["air_c"]
    deep = pd.DataFrame(air).rolling(720, min_periods=1).mean().to_numpy() + 1.0
    return (
        sky_longwave(air, season["dew_point_c"], season["solar_w_m2"]), canopy(air.copy()), deep
    )  # fmt: skip


def soil_step():
    """Conductances, heat capacities [W m-2 K-1] and the inverse of one implicit hour."""
    k, heat_capacity = 1.0, 2.0e6
    k01 = 1.0 / (1.0 / 20.0 + 0.02 / k)
    k12, k23, k3b = k / 0.08, k / 0.28, k / 0.34
    c1, c2, c3 = (heat_capacity * z / 3600.0 for z in (0.04, 0.12, 0.44))
    system = np.array(
        [
            [c1 + k01 + k12, -k12, 0.0],
            [-k12, c2 + k12 + k23, -k23],
            [0.0, -k23, c3 + k23 + k3b],
        ]
    )
    return k01, k3b, c1, c2, c3, np.linalg.inv(system)


def crown_temperatures(season, film, beds, rng):
    """Crown and 10 cm soil [n_hours, n_years, n_beds] by an energy balance of the film."""
    alpha, eps, wind_slope, soil_weight = bed_draws(film, beds, rng)
    air, solar, wind = season["air_c"], season["solar_w_m2"], season["wind_m_s"]
    sky, cover, deep = drivers(season)
    k01, k3b, c1, c2, c3, inverse = soil_step()

    n_hours, n_years = air.shape
    shape = (n_years, beds)
    t1, t2, t3 = (np.broadcast_to(deep[0][:, None], shape).copy() for _ in range(3))
    film_c = t1.copy()
    crown = np.empty((n_hours, *shape), dtype=np.float32)
    soil = np.empty_like(crown)
    for i in range(n_hours):
        ta = air[i][:, None]
        shade = 0.85 * cover[i][:, None]
        down = (1.0 - cover[i][:, None]) * sky[i][:, None] + cover[i][:, None] * 0.97 * SIGMA * (
            ta + 273.15
        ) ** 4
        gain = alpha * solar[i][:, None] * (1.0 - shade) + eps * down
        h = 6.0 + wind_slope * wind[i][:, None]
        for _ in range(2):  # Newton
            kelvin = film_c + 273.15
            residual = gain - eps * SIGMA * kelvin**4 + h * (ta - film_c) + k01 * (t1 - film_c)
            film_c = film_c + residual / (4.0 * eps * SIGMA * kelvin**3 + h + k01)
        r1, r2, r3 = c1 * t1 + k01 * film_c, c2 * t2, c3 * t3 + k3b * deep[i][:, None]
        t1, t2, t3 = (row[0] * r1 + row[1] * r2 + row[2] * r3 for row in inverse)
        above = ta + 0.12 * (film_c - ta)
        crown[i] = (
            soil_weight * t1
            + (0.91 - soil_weight) * above
            + 0.09 * film_c
            + 0.0004 * (2.0 - alpha) * (1.0 - shade) * solar[i][:, None]
        )
        soil[i] = t2
    return crown, soil


def daily_mean(hourly):
    """Means of 24 hours along the first axis, without the burn-in."""
    rest = hourly[BURN_IN_DAYS * 24 :]
    return rest.reshape(-1, 24, *rest.shape[1:]).mean(axis=1)


def wang_engel(t, base, optimum, ceiling):
    """Response of initiation to temperature, 0..1."""
    a = np.log(2.0) / np.log((ceiling - base) / (optimum - base))
    x = np.clip(t - base, 0.0, ceiling - base) ** a
    top = (optimum - base) ** a
    return np.clip((2.0 * x * top - x * x) / (top * top), 0.0, None)


def day_length(days):
    """Hours of light, sun 6 degrees below the horizon."""
    tilt = 0.409 * np.sin(2.0 * np.pi * days.day_of_year.to_numpy() / 365.0 - 1.39)
    latitude = np.radians(LATITUDE)
    cosine = (np.sin(np.radians(-6.0)) - np.sin(latitude) * np.sin(tilt)) / (
        np.cos(latitude) * np.cos(tilt)
    )
    return 24.0 / np.pi * np.arccos(np.clip(cosine, -1.0, 1.0))


def plant_draws(cultivar, draws, rng):
    """Requirement [d], degree-days to the flower and to ripe, and mass of a fruit, [draws] each."""
    requirement = CULTIVARS[cultivar][3]
    return (
        requirement * np.exp(rng.normal(0.0, 0.2, draws)),
        450.0 * np.exp(rng.normal(0.0, 0.08, draws)),
        400.0 * np.exp(rng.normal(0.0, 0.08, draws)),
        20.0 * np.exp(rng.normal(0.0, 0.1, draws)),
    )


def daily_sums(crown, soil, air, cultivar, days):
    """Heat, induction, leaves and the clocks of crown and air, a day, by bed and by year."""
    base, optimum, ceiling, _ = CULTIVARS[cultivar]
    heat_30 = daily_mean(np.maximum(crown - 30.0, 0.0)) * 24.0
    response = daily_mean(wang_engel(crown, base, optimum, ceiling))
    light = 1.0 if cultivar == "Tuff" else 1.0 / (1.0 + np.exp((day_length(days) - 13.2) / 0.4))
    induced = np.cumsum(response * np.reshape(light, (-1, 1, 1)), axis=0)
    leaf_rate = daily_mean(np.clip(0.5 * (crown + soil), 7.0, 26.0) - 7.0) / 85.0
    crown_clock = np.cumsum(daily_mean(np.clip(crown, 3.0, 24.0) - 3.0), axis=0)
    air_clock = np.cumsum(daily_mean(np.clip(air, 3.0, 24.0) - 3.0), axis=0)
    return heat_30, induced, leaf_rate, crown_clock, air_clock


def ripe_fruit(crown, soil, air, cultivar, days, draws, rng):
    """Ripe fruit [g per plant per day, n_days, n_years, n_draws] and heat above 30 degC.

    Plant ``d`` stands on bed ``d % beds``.
    """
    requirement, to_flower, to_ripe, fruit_g = plant_draws(cultivar, draws, rng)
    heat_30, induced, leaf_rate, crown_clock, air_clock = daily_sums(
        crown, soil, air, cultivar, days
    )
    bed = np.arange(draws) % crown.shape[2]
    share = 1.0 / (1.0 + np.exp(-(induced[..., bed] - requirement) / (0.15 * requirement)))
    vigour = np.exp(-np.cumsum(heat_30, axis=0) * 0.0002)
    fruits = (leaf_rate * vigour / 3.5 * 7.0 * 0.6)[..., bed] * share  # initiated a day
    n_days, n_years, _ = fruits.shape
    ripe = np.zeros((n_days + 1, n_years, draws))
    for y in range(n_years):
        for d in range(draws):
            clock = crown_clock[:, y, bed[d]]
            half_way = np.searchsorted(clock, clock + 0.6 * to_flower[d])
            start = air_clock[np.minimum(half_way, n_days - 1), y]
            start = np.where(half_way < n_days, start, np.inf)
            day = np.searchsorted(air_clock[:, y], start + 0.4 * to_flower[d] + to_ripe[d])
            ripe[:, y, d] = np.bincount(
                np.minimum(day, n_days), fruits[:, y, d] * fruit_g[d], n_days + 1
            )
    return ripe[:n_days], heat_30


def forecast(
    path,
    years,
    draws,
    seed,
    blocks=BLOCKS,
    beds=BEDS,
    bed_run=crown_temperatures,
    plant_run=ripe_fruit,
):
    """One row a block: dates of first pick, probability per ISO week, weekly fruit, heat."""
    weather = pd.read_parquet(path)
    weather["time"] = weather["time"].dt.tz_localize(None)
    rng = np.random.default_rng(seed)
    rows = []
    for name, cultivar, film, planted in blocks:
        season = past_seasons(weather, planted, years)
        days = pd.date_range(f"2026-{planted}", periods=SEASON_DAYS)
        crown, soil = bed_run(season, film, min(beds, draws), rng)
        ripe, heat = plant_run(crown, soil, season["air_c"], cultivar, days, draws, rng)
        reached = np.cumsum(ripe, axis=0) >= 3.0
        first = np.where(reached.any(axis=0), reached.argmax(axis=0), -1).ravel()
        dates = days[first[first >= 0]]
        week = days.strftime("%G-W%V")
        weekly = pd.DataFrame(ripe.reshape(SEASON_DAYS, -1), index=week).groupby(level=0).sum()
        rows.append(
            {
                "block": name,
                "cultivar": cultivar,
                "film": film,
                "median": dates.sort_values()[len(dates) // 2].date() if len(dates) else None,
                "weeks": (week[first[first >= 0]].value_counts() / first.size).sort_index(),
                "not_reached": float((first < 0).mean()),
                "heat_30_first_month": float(heat[:30].sum(axis=0).mean()),
                "weekly_g": weekly.quantile([0.1, 0.5, 0.9], axis=1).T,
                "season_g": float(np.median(ripe.sum(axis=0))),
            }
        )
    return rows


def main():
    """Run and print one line a block, and the time it took."""
    parser = argparse.ArgumentParser(description="The plain script, for time ratios.")
    parser.add_argument("weather")
    parser.add_argument("--years", type=int, default=20)
    parser.add_argument("--draws", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    started = time.perf_counter()
    for row in forecast(options.weather, options.years, options.draws, options.seed):
        print(
            f"{row['block']:<12}{row['cultivar']:<8}{row['film']:<20} first pick {row['median']}"
            f"  heat {row['heat_30_first_month']:6.0f} degC h  {row['season_g']:5.0f} g/plant"
        )
    print(f"{time.perf_counter() - started:.1f} s")


if __name__ == "__main__":
    main()
