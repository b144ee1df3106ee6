"""The job of `plain_script.py` as plain loops that numba compiles: the second yardstick of speed.

    python -m tests.benchmarks.plain_numba demo_weather/tamarind_coast.parquet

Nothing of the package is used. The first run compiles, which `main` leaves out of its time.
"""

import argparse
import time

import numpy as np
from numba import njit

from tests.benchmarks import plain_script as plain


@njit(cache=True)
def run_beds(air, solar, wind, sky, cover, deep, alpha, eps, wind_slope, weight, step, inverse):
    """Crown and 10 cm soil [n_hours, n_years, n_beds], bed after bed."""
    k01, k3b, c1, c2, c3 = step
    n_hours, n_years = air.shape
    crown = np.empty((n_hours, n_years, len(alpha)))
    soil = np.empty_like(crown)
    for y in range(n_years):
        for b in range(len(alpha)):
            t1 = t2 = t3 = film = deep[0, y]
            for i in range(n_hours):
                ta = air[i, y]
                shade = 0.85 * cover[i, y]
                leaves = 0.97 * 5.670374e-8 * (ta + 273.15) ** 4
                down = (1.0 - cover[i, y]) * sky[i, y] + cover[i, y] * leaves
                gain = alpha[b] * solar[i, y] * (1.0 - shade) + eps[b] * down
                h = 6.0 + wind_slope[b] * wind[i, y]
                for _ in range(2):
                    kelvin = film + 273.15
                    cube = eps[b] * 5.670374e-8 * kelvin * kelvin * kelvin
                    residual = gain - cube * kelvin + h * (ta - film) + k01 * (t1 - film)
                    film += residual / (4.0 * cube + h + k01)
                r1, r2, r3 = c1 * t1 + k01 * film, c2 * t2, c3 * t3 + k3b * deep[i, y]
                t1 = inverse[0, 0] * r1 + inverse[0, 1] * r2 + inverse[0, 2] * r3
                t2 = inverse[1, 0] * r1 + inverse[1, 1] * r2 + inverse[1, 2] * r3
                t3 = inverse[2, 0] * r1 + inverse[2, 1] * r2 + inverse[2, 2] * r3
                above = ta + 0.12 * (film - ta)
                crown[i, y, b] = (
                    weight[b] * t1
                    + (0.91 - weight[b]) * above
                    + 0.09 * film
                    + 0.0004 * (2.0 - alpha[b]) * (1.0 - shade) * solar[i, y]
                )
                soil[i, y, b] = t2
    return crown, soil


def crown_temperatures(season, film, beds, rng):
    """As in the plain script, in compiled loops."""
    *step, inverse = plain.soil_step()
    return run_beds(
        season["air_c"], season["solar_w_m2"], season["wind_m_s"], *plain.drivers(season),
        *plain.bed_draws(film, beds, rng), tuple(step), inverse,
    )  # fmt: skip


@njit(cache=True)
def run_plants(fruits_a_day, induced, crown_clock, air_clock, requirement, flower, ripe_d, grams):
    """Ripe fruit of each day [n_days, n_years, n_draws], plant after plant."""
    n_days, n_years, n_beds = induced.shape
    ripe = np.zeros((n_days, n_years, len(requirement)))
    for y in range(n_years):
        for d in range(len(requirement)):
            bed = d % n_beds
            half = ripe_at = 0
            for i in range(n_days):
                goal = crown_clock[i, y, bed] + 0.6 * flower[d]
                while half < n_days and crown_clock[half, y, bed] < goal:
                    half += 1
                if half == n_days:
                    break
                goal = air_clock[half, y] + 0.4 * flower[d] + ripe_d[d]
                while ripe_at < n_days and air_clock[ripe_at, y] < goal:
                    ripe_at += 1
                if ripe_at == n_days:
                    break
                late = (induced[i, y, bed] - requirement[d]) / (0.15 * requirement[d])
                ripe[ripe_at, y, d] += fruits_a_day[i, y, bed] * grams[d] / (1.0 + np.exp(-late))
    return ripe


def ripe_fruit(crown, soil, air, cultivar, days, draws, rng):
    """As in the plain script, in compiled loops."""
    drawn = plain.plant_draws(cultivar, draws, rng)
    heat_30, induced, leaf_rate, crown_clock, air_clock = plain.daily_sums(
        crown, soil, air, cultivar, days
    )
    vigour = np.exp(-np.cumsum(heat_30, axis=0) * 0.0002)
    fruits = leaf_rate * vigour / 3.5 * 7.0 * 0.6
    return run_plants(fruits, induced, crown_clock, air_clock, *drawn), heat_30


def forecast(path, years, draws, seed, **asked):
    """`plain_script.forecast` with compiled loops."""
    return plain.forecast(
        path, years, draws, seed, bed_run=crown_temperatures, plant_run=ripe_fruit, **asked
    )


def main():
    """Compile, run, and print one line a block and the time it took."""
    parser = argparse.ArgumentParser(description="The plain loops, for time ratios.")
    parser.add_argument("weather")
    parser.add_argument("--years", type=int, default=20)
    parser.add_argument("--draws", type=int, default=200)
    options = parser.parse_args()
    forecast(options.weather, 1, 2, 1)
    started = time.process_time()
    for row in forecast(options.weather, options.years, options.draws, 1):
        print(f"{row['block']:<12}{row['median']}  {row['season_g']:5.0f} g/plant")
    print(f"{time.process_time() - started:.1f} s of processor time")


if __name__ == "__main__":
    main()
