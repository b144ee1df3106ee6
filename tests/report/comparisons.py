"""A small comparison document, written by hand, whose names try to break a page."""

from __future__ import annotations

from typing import Any

FILMS = ("black", '<script>alert("film")</script>')
BLOCK = '"Quay" <b>East</b> \u202eabc'
DATES = ("2026-09-28", "2026-10-12")
TILTS = (-0.5, 0.0, 0.5)


def quantiles(middle: float, wide: float) -> dict[str, float]:
    return {"p10": round(middle - wide, 1), "p50": middle, "p90": round(middle + wide, 1)}


def money_of(mean: float, wide: float) -> dict[str, float]:
    return {"mean": mean, **quantiles(mean - 40.0, wide)}


def standing(value: float, best: float) -> dict[str, Any]:
    return {
        "expected": value,
        "worst_tenth": value - 2000.25,
        "regret": best - value + 11.5,
        "undominated": value == best,
        "difference_to_best": {
            "mean": value - best,
            "standard_error": 100.0,
            "low_95": value - best - 206.0,
            "high_95": value - best + 206.0,
        },
        "not_clearly_worse": value == best,
    }


def at_tilt(tilt: float, value: float, added: float) -> dict[str, Any]:
    return {
        "tilt": tilt,
        "revenue": money_of(value + 9000.0 + added, 800.0),
        "margin": money_of(value + added, 800.0),
        **standing(value + added, 23000.5 + (added if value == 23000.5 else 0.0)),
    }


SHARE = {"mean": 0.0312, "p90_over_weather_years": 0.1104}


def option(day: str, film: str, number: int, *, money: bool) -> dict[str, Any]:
    label = {
        "planting_date": day, "film": film, "cultivar": "Marl", "transplant": "bare-root",
    }  # fmt: skip
    pick = {
        "p10": f"2026-11-{10 + number:02d}", "median": f"2026-11-{15 + number:02d}", "p90": None,
        "week": "2026-W47", "not_reached_probability": 0.1042,
    }  # fmt: skip
    value = 20000.5 + 1000.0 * number
    entry: dict[str, Any] = {
        **label,
        "first_pick": pick,
        "last_day": "2027-07-11",
        "season_end": {"rule": "stated", "simulated_to": "2027-07-11", "g_per_plant": 5.0,
                       "weeks": 2},
        "crown_degree_hours_above_30c": quantiles(220.0 + number, 40.0),
        "plants_alive_share": {"p10": 0.952, "p50": 0.981, "p90": 1.0},
        "early_g_per_plant": quantiles(120.5 + number, 30.2),
        "season_g_per_plant": quantiles(640.5 + number, 99.9),
        "weekly": [
            {"week": f"2026-W{47 + n}", "trays": quantiles(20.0 * (n + 1) + number, 8.0),
             "g_per_plant": quantiles(10.0, 2.0)}
            for n in range(3)
        ],
        "frost": {
            "share_of_season_lost": SHARE,
            "with_protection": {"season_g_per_plant": quantiles(660.5 + number, 99.9)},
        },
        **standing(value, 23000.5),
        "beats_reference_probability": 0.5 + 0.1 * number,
        "flags": [],
        "warnings": [f"a warning of {film} & option {number}"],
    }  # fmt: skip
    if money:
        entry |= {"revenue": money_of(value + 9000.0, 800.0), "cost": 9000.75,
                  "cost_parts": {"film": 900.0, "transplants": 4000.5, "planting": 2000.0,
                                 "harvest_mean": 2100.25},
                  "margin": money_of(value, 800.0)}  # fmt: skip
        entry["tilted"] = [at_tilt(tilt, value, 500.0 * tilt * (2 - number)) for tilt in TILTS]
    return entry


def comparison(
    *, money: bool = True, films: tuple[str, ...] = FILMS, block: str = BLOCK
) -> dict[str, Any]:
    """Two dates on two films; the last option is the best."""
    options = [
        option(day, film, number, money=money)
        for number, (film, day) in enumerate((film, day) for film in films for day in DATES)
    ]
    named = ("planting_date", "film", "cultivar", "transplant")
    best = {name: options[-1][name] for name in named}
    tilts = {
        "meaning": "a share", "first_week": "2026-W47", "last_week": "2026-W49",
        "tilts": [
            {"tilt": tilt, "best": best, "best_on_edge": None, "highest_flagged": None}
            for tilt in TILTS
        ],
    }  # fmt: skip
    return {
        "schema_version": 2, "engine_version": "0.1.0", "kind": "compare",
        "issue_date": "2026-09-27",
        "block": block, "site": "Low & Quay", "seed": 3, "draws": 20,
        "weather_traces": 23, "early_until": "2027-01-12", "last_day": "2027-07-11",
        "heat_compared": {"days": 31, "from": None, "to": None},
        "judged_by": "margin of the block" if money else "season fruit, g per plant",
        "currency": "EUR" if money else None, "costs": None,
        "pack": {"name": "8 x 1 lb", "net_mass_kg": 3.6287, "over_pack": 0.02,
                 "left_share": {"p10": 0.056, "p50": 0.121, "p90": 0.185},
                 "least_t_per_ha": 0.02},
        "reference": {name: options[0][name] for name in named}, "best": best,
        "frost": {"protection": "not stated", "share_of_season_lost": SHARE, "caution": None},
        "best_on_edge": None, "highest_flagged": None, "biases": [],
        "price_tilt": tilts if money else None, "options": options,
        "cautions": {film: [f"a caution of {film}"] for film in films},
        "warnings": ["not validated with field data"],
    }  # fmt: skip
