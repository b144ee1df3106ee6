"""What the reader of a forecast must be told: limits, gaps and cautions."""

from __future__ import annotations

from datetime import date

from phenocast.forecast.futures import Futures
from phenocast.season import Season
from phenocast.simulation.setup import BlockSetup
from phenocast.weather import SeasonWeather

NOT_VALIDATED = (
    "not validated with field data: dates and fruit rest on published chamber and field results "
    "and on assumptions; the intervals hold what is stated about those, not what is left out"
)
REFLECTIVE = 0.3
"""Solar reflectance from which a film is spoken of as reflective: its early advantage, the
cool-season penalty, glare [0..1]. Black films lie near 0.04, silver pigment near 0.37, white and
metallised at 0.5 and above."""

# With long days and heat before this day of the nursery's autumn (northern count) plants cannot yet
# be induced; common practice, no source.
EARLIEST_CONDITIONED_NORTH = (9, 20)
EARLIEST_CONDITIONED_SOUTH = (3, 20)
# Plantings more than this before that day belong to another season (summer or spring) [d].
EARLY_WINDOW_D = 80


def season_warnings(
    season: Season, weather: SeasonWeather, futures: Futures
) -> tuple[str, ...]:
    """Return what holds for the whole season, each once."""
    told = [*season.warnings, *futures.warnings]
    for part in (weather.observed, weather.history, weather.nursery):
        if part is not None:
            told.extend(part.warnings)
    told.append(NOT_VALIDATED)
    return tuple(dict.fromkeys(told))


def block_warnings(season: Season, setup: BlockSetup) -> tuple[str, ...]:
    """Return what holds for one block."""
    block = setup.block
    told = []
    reflective = setup.film.value("solar_reflectance") >= REFLECTIVE
    if reflective and block.sprinkling is None:
        told.append(
            "no overhead sprinkling is stated: if the plants are sprinkled in the first days, the "
            "early advantage of this film over black is overstated"
        )
    conditioned = setup.transplant.value("trusses_at_planting") > 0.0
    if conditioned and season.nursery is None and _too_early(block.planting_date, season):
        told.append(
            "planted before a nursery at this latitude could have conditioned the plants: without "
            "[nursery] weather the transplant's state is assumed, and the date may be too early"
        )
    if setup.cultivar.labels.get("flowering") == "day-neutral":
        told.append("day-neutral type: the yield level is untuned and probably too high")
    return tuple(told)


def _too_early(planting: date, season: Season) -> bool:
    """Say whether a planting falls between mid-summer and the day of the earliest conditioning."""
    month, day = EARLIEST_CONDITIONED_NORTH
    if season.site.latitude < 0.0:
        month, day = EARLIEST_CONDITIONED_SOUTH
    opening = date(planting.year, month, day)
    if opening <= planting:
        opening = date(planting.year + 1, month, day)
    return (opening - planting).days <= EARLY_WINDOW_D
