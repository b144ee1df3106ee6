"""What the reader of a forecast must be told: limits, gaps and cautions."""

from __future__ import annotations

from datetime import date, timedelta

from phenocast.forecast.futures import Futures
from phenocast.parameters import ParameterSet, conditioning, film_words
from phenocast.season import Season
from phenocast.simulation.setup import BlockSetup
from phenocast.weather import SeasonWeather

NOT_VALIDATED = (
    "not validated with field data: dates and fruit rest on published chamber and field results "
    "and on assumptions; the intervals hold what is stated about those, not what is left out"
)

FLAGS = {
    "date_too_early": "planted before a nursery at this latitude could have conditioned the "
    "plants: without [nursery] weather for the block its plants are assumed, and the date may be "
    "too early",
    "yield_untuned": "day-neutral type: the yield level is untuned and probably too high",
}

CREWS_AND_HEAT = (
    "early planting and early fruit are work in hot weather: keep to the heat rules of your "
    "country; the command labour counts hours above published limits, which is a planning aid and "
    "no safety programme"
)


def season_warnings(
    season: Season, weather: SeasonWeather, futures: Futures
) -> tuple[str, ...]:
    """Return what holds for the whole season, each once."""
    told = [*season.warnings, *futures.warnings]
    for part in (weather.observed, weather.history, weather.nursery):
        if part is not None:
            told.extend(part.warnings)
    told += [CREWS_AND_HEAT, NOT_VALIDATED]
    return tuple(dict.fromkeys(told))


def block_warnings(season: Season, setup: BlockSetup) -> tuple[str, ...]:
    """Return what holds for one block."""
    block = setup.block
    told = []
    if is_reflective(setup.film) and block.sprinkling is None:
        told.append(
            "no overhead sprinkling is stated: if the plants are sprinkled in the first days, the "
            "early advantage of this film over black is overstated"
        )
    return (*told, *(FLAGS[code] for code in block_flags(season, setup)))


def block_flags(season: Season, setup: BlockSetup) -> tuple[str, ...]:
    """Return why the engine distrusts its own figures of a block: keys of `FLAGS`.

    A block with a flag is answered but never recommended.
    """
    block = setup.block
    told = []
    conditioned = setup.transplant.value("trusses_at_planting") > 0.0
    from_nursery = season.nursery is not None and season.nursery.supplies(block.name)
    if conditioned and not from_nursery and _too_early(block.planting_date, season):
        told.append("date_too_early")
    if setup.cultivar.labels.get("flowering") == "day-neutral":
        told.append("yield_untuned")
    return tuple(told)


def is_reflective(film: ParameterSet) -> bool:
    """Say whether a film reflects so much sunlight that it is spoken of as reflective.

    Examples
    --------
    >>> from phenocast.parameters import films
    >>> is_reflective(films()["silver"]), is_reflective(films()["black"])
    (True, False)
    """
    return film.value("solar_reflectance") >= film_words().value("reflective_from")


def _too_early(planting: date, season: Season) -> bool:
    """Say whether a planting falls between midsummer and the day of the earliest conditioning."""
    known = conditioning()
    south = season.site.latitude < 0.0
    days = int(known.value("earliest_south" if south else "earliest_north"))
    # The day of the year is that of a common year, so that a leap year has the same date.
    opening = (date(2001, 1, 1) + timedelta(days=days - 1)).replace(year=planting.year)
    if opening <= planting:
        opening = opening.replace(year=planting.year + 1)
    return (opening - planting).days <= known.value("early_window")
