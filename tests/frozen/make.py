"""Frozen seasons (every shipped cultivar on two films, at the central values) and frozen answers.

``python -m tests.frozen.make`` runs them, tells how far they moved from the committed files and
writes both anew; ``seasons`` or ``answers`` behind it makes one. A file is made anew only in a
commit of its own that states cause and size.

The weather of the seasons is made here from plain formulas, with the longwave from the sky given,
and begins with the spin-up of the bed: so the seasons depend on the engine, its shipped parameters
and the day's length, and on no station file. Winter nights below zero and cool spells bring frost
and some rest.
"""

from __future__ import annotations

import json
import os
import sys
from collections.abc import Mapping
from datetime import date, timedelta
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import numpy as np

from phenocast.harvest import week_labels
from phenocast.parameters import bed, cultivars, films, shelters, soils, transplants
from phenocast.season import Bed, Block, Site
from phenocast.season.model import ClockHours, Sprinkling
from phenocast.simulation import BlockSetup, simulate_block
from phenocast.weather import HourlyWeather
from tests.answers import PLACE as ANSWERS
from tests.frozen import answers

PLACE = Path(__file__).with_name("seasons.json")
SITE = Site("Low Quay", 31.0, -15.6, 35.0, "Atlantic/Canary")
PLANTING, LAST_DAY, SPIN_UP_D = date(2026, 9, 28), date(2027, 5, 16), 14
FILMS = ("black", "metallised-striped")
TRANSPLANTS = {
    "Basalt": "bare-root", "Marl": "plug", "Gneiss": "bare-root", "Tuff": "plug",
    "Schist": "conditioned-plug", "Chert": "cold-stored",
}  # fmt: skip
DATES = ("flower_initiation", "emergence", "anthesis", "first_ripe", "first_pick", "rest_release")
FRUIT = ("ripe_g", "marketable_g", "ripe_fruit")


def weather() -> HourlyWeather:
    """Hours from the spin-up to the last day: a hot week at planting, spells of 9 and 23 days."""
    days = (LAST_DAY - PLANTING).days + 1 + SPIN_UP_D
    hour = np.arange(24 * days, dtype=float)
    clock, day = hour % 24.0, hour / 24.0
    spell = 2.5 * np.sin(2 * np.pi * day / 9.0) + 2.0 * np.sin(2 * np.pi * day / 23.0)
    spell += 11.0 * np.exp(-(((day - SPIN_UP_D - 5.0) / 4.0) ** 2))
    # warmest at the end of July, coolest at the end of January
    season = 17.5 + 8.0 * np.cos(2 * np.pi * (day + 257.0 - SPIN_UP_D - 194.0) / 365.0)
    air = season + spell + 6.0 * np.cos(2 * np.pi * (clock - 14.0) / 24.0)
    cloud = 0.5 - 0.5 * np.sin(2 * np.pi * day / 9.0 + 1.0)
    top = 700.0 + 250.0 * np.cos(2 * np.pi * (day + 257.0 - SPIN_UP_D - 172.0) / 365.0)
    solar = np.maximum(top * np.sin(np.pi * (clock - 6.0) / 12.0), 0.0) * (1.0 - 0.6 * cloud)
    vapour = 0.75 * 0.6108 * np.exp(17.27 * (season + spell - 4.0) / (season + spell + 233.3))
    start = np.datetime64(PLANTING - timedelta(days=SPIN_UP_D), "h")
    return HourlyWeather(
        time_utc=start + np.arange(hour.size).astype("timedelta64[h]"),
        air_c=air,
        vapour_pressure_kpa=vapour,
        wind_m_s=1.8 + 1.5 * np.sin(2 * np.pi * day / 5.0) ** 2 + (solar > 0.0) * 0.7,
        solar_w_m2=solar,
        longwave_down_w_m2=(0.72 + 0.2 * cloud) * 5.670374e-8 * (air + 273.15) ** 4,
        rain_mm=np.zeros(hour.size),
        filled=np.zeros(hour.size, dtype=np.uint8),
        site=SITE,
    )


def setup_of(cultivar: str, film: str) -> BlockSetup:
    """One block, sprinkled by day for three days."""
    optics = films()[film]
    beside = optics.labels.get("shoulder")
    return BlockSetup(
        site=SITE,
        bed=Bed(0.76, 0.25, 1.5, "sandy loam"),
        block=Block(
            "A", cultivar, film, TRANSPLANTS[cultivar], PLANTING, 45_000.0, 1.0,
            season_end=LAST_DAY, sprinkling=Sprinkling(3, ClockHours(10.0, 16.0)),
        ),
        film=optics,
        shoulder=None if beside is None else films()[beside],
        physics=bed(),
        soil=soils()["sandy loam"],
        cultivar=cultivars()[cultivar],
        transplant=transplants()[TRANSPLANTS[cultivar]],
        shelters=shelters(),
    )  # fmt: skip


def seasons() -> dict[str, dict[str, Any]]:
    """Dates [d since planting, None where not reached] and fruit of each ISO week, by season."""
    hours = weather()
    labels, week_of_day = week_labels(PLANTING, (LAST_DAY - PLANTING).days + 1)
    made: dict[str, dict[str, Any]] = {}
    for cultivar in cultivars():
        for film in FILMS:
            plant = simulate_block(setup_of(cultivar, film), hours).plant
            dates = {name: float(getattr(plant, name)) for name in DATES}
            made[f"{cultivar} on {film}"] = {
                "dates_d": {
                    name: round(d, 9) if np.isfinite(d) else None for name, d in dates.items()
                },
                "surviving_share": round(plant.surviving_share, 9),
                **{
                    name: np.bincount(week_of_day, getattr(plant, name), len(labels))
                    .round(9)
                    .tolist()
                    for name in FRUIT
                },
            }
    return made


def moves(old: Mapping[str, Any], new: Mapping[str, Any]) -> tuple[float, float]:
    """Largest move of a date [d] and of a week's fruit [g or fruit]; infinite where one is gone."""
    dates, fruit = 0.0, 0.0
    for name in {*old, *new}:
        if name not in old or name not in new:
            return float("inf"), float("inf")
        was, now = old[name], new[name]
        for stage in DATES:
            pair = was["dates_d"][stage], now["dates_d"][stage]
            if None in pair:
                dates = dates if pair[0] == pair[1] else float("inf")
            else:
                dates = max(dates, abs(pair[0] - pair[1]))
        for kind in FRUIT:
            fruit = max(fruit, float(np.abs(np.subtract(was[kind], now[kind])).max()))
    return dates, fruit


def read(path: Path) -> dict[str, Any]:
    return json.loads(path.read_text(encoding="utf-8")) if path.exists() else {}


def lines_of(held: Mapping[str, Any]) -> str:
    """JSON with one line for each entry."""
    rows = [f" {json.dumps(name)}: {json.dumps(one)}" for name, one in held.items()]
    return "{\n" + ",\n".join(rows) + "\n}"


def make_seasons() -> None:
    new = seasons()
    moved = moves(read(PLACE), new)
    print("largest moves: dates {:.3g} d, fruit of a week {:.3g} g".format(*moved))
    PLACE.write_text(lines_of(new) + "\n", encoding="utf-8")


def make_answers() -> None:
    with TemporaryDirectory() as folder:
        os.environ[ANSWERS] = folder
        new = answers.figures()
    old = read(answers.PLACE)
    for name in {**old, **new}:
        moved = answers.moves(old.get(name, {}), new.get(name, {}))
        print(f"{name}: {len(moved)} of {len(new.get(name, {}))} columns moved")
        for column, share in sorted(moved.items(), key=lambda one: -one[1])[:10]:
            print(f"  {column}: {share:.3g}")
    rows = [f"{json.dumps(name)}: {lines_of(one)}" for name, one in new.items()]
    answers.PLACE.write_text("{\n" + ",\n".join(rows) + "\n}\n", encoding="utf-8")


if __name__ == "__main__":
    for one in sys.argv[1:] or ("seasons", "answers"):
        {"seasons": make_seasons, "answers": make_answers}[one]()
