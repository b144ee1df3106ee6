"""Which published curve makes the best hours of daily extremes? Judged on real hourly records.

Run from the repository's root; it writes daily_curve_contest.md beside itself:

    python tests/benchmarks/daily_curve_contest.py

Three public-domain station years (NREL): Greensboro NC (TMY3) and Miami FL (TMY2), both inside the
pvlib package, and San Francisco CA (TMY3 as EPW, in demo_weather/). More EPW files may be named on
the command line. The dry bulb of these files is a reading at the stamp, so the curves are evaluated
at the stamps. The extremes are those of the 24 readings of each local standard day, midnight to
midnight, as a daily file reports them. Every curve gets the same days; the first and last day are
left out of the score. Scored are the hours (RMSE, bias) and what a user of thermal time feels: the
mean absolute error of the day's degree-days above 10 degC with a horizontal cut-off at 25 degC.

The default curve is the one with the lowest mean RMSE over the stations. A second table says how
the order stands when the readings are taken half an hour earlier, as means of the hour before.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pvlib

from phenocast.season.site import Site
from phenocast.weather import CURVES, DEFAULT_CURVE, hours_from_extremes
from phenocast.weather.sun import SUNRISE_DEG, sun_passages_h

ROOT = Path(__file__).resolve().parents[2]
READINGS_PER_DAY = 24


@dataclass(frozen=True)
class Station:
    """Readings of one year: clock 1 to 24 h of each local standard day, ``[days, 24]`` [degC]."""

    name: str
    site: Site
    utc_offset_h: float
    air_c: np.ndarray


@dataclass(frozen=True)
class Score:
    """What one curve made of one station."""

    station: str
    curve: str
    rmse_c: float
    bias_c: float
    degree_day_error: float


def stations(more: list[Path]) -> list[Station]:
    """Return the station years; an EPW that is not there is left out and said so."""
    data = Path(pvlib.__file__).parent / "data"
    found = []
    frame, meta = pvlib.iotools.read_tmy3(data / "723170TYA.CSV", map_variables=True)
    found.append(_station("Greensboro NC", frame["temp_air"], meta, "TZ"))
    frame, meta = pvlib.iotools.read_tmy2(data / "12839.tm2")
    found.append(_station("Miami FL", frame["DryBulb"] / 10.0, meta, "TZ"))
    for path in [ROOT / "demo_weather" / "san_francisco_tmy3.epw", *more]:
        if not path.exists():
            print(f"left out, not there: {path.name}", file=sys.stderr)
            continue
        frame, meta = pvlib.iotools.read_epw(path)
        name = f"{meta['city']} {meta['state-prov']}"
        found.append(_station(name, frame["temp_air"], meta, "TZ"))
    return found


def _station(name: str, air: object, meta: dict[str, object], zone: str) -> Station:
    readings = np.asarray(air, dtype=np.float64)
    assert readings.size == 365 * READINGS_PER_DAY, name
    site = Site(name, float(meta["latitude"]), float(meta["longitude"]), 0.0, "UTC")
    return Station(name, site, float(meta[zone]), readings.reshape(365, READINGS_PER_DAY))


def contest(found: list[Station], reading_at_h: float) -> list[Score]:
    """Return the score of each curve at each station.

    ``reading_at_h`` tells where in its hour a reading stands: 1.0 at the end, 0.5 in the middle.
    """
    scores = []
    for station in found:
        days = np.datetime64("2001-01-01") + np.arange(365)  # a typical year has no year of its own
        site = station.site
        rise, fall = (
            hour + station.utc_offset_h
            for hour in sun_passages_h(days, site.latitude, SUNRISE_DEG, longitude=site.longitude)
        )
        air = station.air_c
        for curve in CURVES:
            made = hours_from_extremes(
                air.min(axis=1),
                air.max(axis=1),
                rise,
                fall,
                curve=curve,
                clock_h=np.arange(READINGS_PER_DAY) + reading_at_h,
            )
            error = (made - air)[1:-1]
            heat = (_degree_days(made) - _degree_days(air))[1:-1]
            scores.append(
                Score(
                    station.name,
                    curve,
                    float(np.sqrt((error**2).mean())),
                    float(error.mean()),
                    float(np.abs(heat).mean()),
                )
            )
    return scores


def _degree_days(hours: np.ndarray) -> np.ndarray:
    return np.clip(hours, 10.0, 25.0).mean(axis=1) - 10.0


def best(scores: list[Score]) -> str:
    """Return the curve with the lowest mean RMSE over the stations."""
    return min(CURVES, key=lambda c: np.mean([s.rmse_c for s in scores if s.curve == c]))


def table(scores: list[Score]) -> str:
    """Return the scores and their means over stations as a Markdown table."""
    lines = [
        "| station | curve | RMSE degC | bias degC | degree-day error degC d |",
        "|---|---|---|---|---|",
    ]
    lines += [
        f"| {s.station} | {s.curve} | {s.rmse_c:.2f} | {s.bias_c:+.2f} | {s.degree_day_error:.3f} |"
        for s in scores
    ]
    for curve in CURVES:
        mine = [s for s in scores if s.curve == curve]
        rmse, bias, heat = (
            np.mean([getattr(s, name) for s in mine])
            for name in ("rmse_c", "bias_c", "degree_day_error")
        )
        lines.append(f"| **mean** | {curve} | {rmse:.3f} | {bias:+.2f} | {heat:.3f} |")
    return "\n".join(lines)


def main() -> None:
    """Run the contest and keep its result."""
    found = stations([Path(name) for name in sys.argv[1:]])
    at_stamp, before = contest(found, 1.0), contest(found, 0.5)
    text = (
        "# Daily curves on real hours\n\n"
        "Written by `daily_curve_contest.py`, which says how the scores are made.\n\n"
        f"Lowest mean RMSE: **{best(at_stamp)}**. Default of the package: **{DEFAULT_CURVE}**.\n\n"
        f"## Readings at the stamp\n\n{table(at_stamp)}\n\n"
        "## The same readings taken as means of the hour before the stamp\n\n"
        f"Lowest mean RMSE: **{best(before)}**.\n\n{table(before)}\n"
    )
    Path(__file__).with_suffix(".md").write_text(text, encoding="utf-8")
    print(text)


if __name__ == "__main__":
    main()
