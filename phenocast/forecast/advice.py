"""What the reader of a forecast must be told: limits, gaps and cautions."""

from __future__ import annotations

from datetime import date, timedelta

from phenocast.errors import CAUTION, cautions_first
from phenocast.forecast.weather_traces import WeatherTraces
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

# Plants are ordered a good half year ahead; a forecast as of an earlier day has a wrong year [d].
EARLY_ISSUE_D = 240
# A season without a stated end is over within a year [d].
LONGEST_OPEN_D = 365


def season_warnings(
    season: Season,
    weather: SeasonWeather,
    traces: WeatherTraces,
    issue_date: date,
    planted: date | None = None,
) -> tuple[str, ...]:
    """Return what holds for the whole season, each once, cautions first.

    Parameters
    ----------
    season : Season
    weather : SeasonWeather
    traces : WeatherTraces
    issue_date, planted : as for `issue_doubts`.
    """
    told = [*issue_doubts(season, weather, issue_date, planted), *season.warnings]
    told.extend(traces.warnings)
    for part in weather.tables():
        told.extend(part.warnings)
    told += [CREWS_AND_HEAT, NOT_VALIDATED]
    return cautions_first(told, season.checked)


def issue_doubts(
    season: Season, weather: SeasonWeather, issue_date: date, planted: date | None = None
) -> list[str]:
    """Return a caution where an issue date lies outside the season: most often a wrong year.

    Parameters
    ----------
    season : Season
    weather : SeasonWeather
    issue_date : date
    planted : date, optional
        First planting of a comparison; that of the blocks without it. The day before it is the
        usual issue date where nothing is observed by then.
    """
    first = planted or min(block.planting_date for block in season.blocks)
    last = max(
        block.season_end or block.planting_date + timedelta(days=LONGEST_OPEN_D)
        for block in season.blocks
    )
    begun = "" if weather.observed is None else str(weather.observed.time_utc[0])[:10]
    what = ""
    if issue_date.isoformat() < min(begun, str(first - timedelta(days=1))):
        what = f"before the observed weather begins ({begun}), so that none of it is used"
    elif not begun and issue_date < first - timedelta(days=EARLY_ISSUE_D):
        what = f"{(first - issue_date).days} days before the first planting ({first})"
    elif issue_date > last:
        what = f"after the season, which is over by {last}"
    told = (
        f"{CAUTION}as of {issue_date}, which is {what}: is the year right? If it is, there is "
        "nothing to do; without --as-of the last observed day is taken"
    )
    return [told] if what else []


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
