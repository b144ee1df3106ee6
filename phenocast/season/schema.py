"""Keys of a season file and what each may hold; a film that it describes; water on a film."""

from typing import Annotated, Any, Literal

from pydantic import BaseModel, BeforeValidator, Field

from phenocast.errors import Fault, broken
from phenocast.parameters import Parameter, ParameterSet, film_water, user_film
from phenocast.parameters.user_files import OPTICS, sum_faults
from phenocast.season.economics import Costs, Labour, Prices
from phenocast.season.kinds import (
    OF_TABLES,
    Day,
    Files,
    Hours,
    Number,
    Text,
    file_table,
    kind_table,
    listed,
)
from phenocast.season.model import (
    Bed,
    Block,
    CanopyReading,
    FrostProtection,
    Source,
    Sprinkling,
    WeatherSources,
)

# What a user has looked at and found right, so that a caution about it stands among the others.
Checked = Literal[
    "area", "humidity", "picks", "place", "planting date", "plants", "row spacing", "still sensor",
    "sun",
]  # fmt: skip


class _Table(BaseModel):
    """A table of the file; a key that is not known is a fault."""

    model_config = OF_TABLES


class SiteTable(_Table):
    """Keys of ``[site]``; the ranges of a place are checked together with its zone."""

    name: Text
    latitude: Number
    longitude: Number
    elevation_m: Number
    time_zone: Text


class LightingTable(_Table):
    """Keys of one period of lamps or blackout."""

    from_day: Day = Field(alias="from")
    to_day: Day = Field(alias="to")
    hours: Hours


class CoverTable(_Table):
    """Keys of one period of a row cover or low tunnel."""

    from_day: Day = Field(alias="from")
    to_day: Day = Field(alias="to")
    hours: Hours | None = None


Lightings = Annotated[list[LightingTable], BeforeValidator(listed)]
Covers = Annotated[list[CoverTable], BeforeValidator(listed)]


class NurseryTable(SiteTable):
    """Keys of ``[nursery]``."""

    name: Text = "nursery"
    from_day: Day = Field(alias="from")
    to_day: Day | None = Field(default=None, alias="to")
    weather: Source
    lighting: Lightings = []
    blackout: Lightings = []
    blocks: list[Text] = []


class BlockTable(_Table):
    """Keys of one ``[[block]]``."""

    name: Text
    cultivar: Text
    film: Text
    planting_date: Day
    plants_per_ha: Number = Field(gt=0.0, le=1_000_000.0)
    area_ha: Number = Field(gt=0.0, le=10_000.0)
    transplant: Text
    season_end: Day | None = None
    first_pick_g_per_plant: Number | None = Field(default=None, gt=0.0, le=200.0)
    stripe_width_m: Number | None = Field(default=None, gt=0.0, le=3.0)
    film_laid: Day | None = None
    sprinkling: Sprinkling | None = None
    row_cover: Covers = []
    low_tunnel: Covers = []
    frost_protection: Annotated[FrostProtection, BeforeValidator(kind_table)] | None = None
    lighting: Lightings = []
    blackout: Lightings = []
    cover: list[CanopyReading] = []
    cover_file: Text | None = None


class FilmTable(_Table):
    """Keys of a film of the user's own, ``[film.NAME]``."""

    description: Text | None = None
    file: Text | None = None
    solar_reflectance: Number | None = Field(default=None, ge=0.0, le=1.0)
    solar_transmittance: Number | None = Field(default=None, ge=0.0, le=1.0)
    longwave_emittance: Number | None = Field(default=None, ge=0.0, le=1.0)
    longwave_transmittance: Number | None = Field(default=None, ge=0.0, le=1.0)
    reflectance_loss: Number | None = Field(default=None, ge=0.0, le=1.0)
    emittance_rise: Number | None = Field(default=None, ge=0.0, le=1.0)
    contact_conductance: Number | None = Field(default=None, gt=0.0, le=2000.0)
    stripe_width_m: Number | None = Field(default=None, gt=0.0, le=3.0)
    shoulder: Text | None = None


class RecordsTable(_Table):
    """Keys of ``records``; a bare file name is the table that says no more."""

    file: Text


def cover_series(value: Any) -> Any:
    """Return the blocks with ``cover = {file = "..."}`` told apart from a list of readings."""
    if not isinstance(value, list):
        return value
    blocks = []
    for block in value:
        told = dict(block) if isinstance(block, dict) else block
        if isinstance(told, dict) and isinstance(told.get("cover"), dict | str):
            series = told["cover"]
            if isinstance(series, str) or set(series) == {"file"}:
                told.pop("cover")
                told["cover_file"] = series if isinstance(series, str) else series["file"]
        blocks.append(told)
    return blocks


class SeasonFile(_Table):
    """Tables and keys at the top of the file."""

    site: SiteTable
    weather: WeatherSources
    bed: Bed
    block: Annotated[list[BlockTable], BeforeValidator(cover_series), Field(min_length=1)]
    nursery: NurseryTable | None = None
    film: dict[Text, FilmTable] = {}
    labour: Labour | None = None
    prices: Prices | None = None
    costs: Costs | None = None
    records: Annotated[RecordsTable, BeforeValidator(file_table)] | None = None
    cultivar_file: Files = ()
    season_end: Day | None = None
    first_pick_g_per_plant: Number = Field(default=3.0, gt=0.0, le=200.0)
    checked: Annotated[list[Checked], BeforeValidator(listed)] = []


_UNITS = {"contact_conductance": "W m-2 K-1", "stripe_width": "m"}


def film_faults(table: FilmTable, where: str) -> list[Fault]:
    """Faults of a user's film: numbers and file together, optics missing or adding past 1."""
    stated = {name: getattr(table, name) for name in OPTICS}
    given = [name for name, value in stated.items() if value is not None]
    if table.file is not None:
        return [
            Fault(
                "a film has either a file or numbers", f"{where}.{name}",
                do="take out the one or the other",
            )
            for name in given[:1]
        ]  # fmt: skip
    if len(given) < len(stated):
        return [
            Fault("this key is required", f"{where}.{name}", None, "0 to 1", "state it, or file")
            for name, value in stated.items()
            if value is None
        ]
    return sum_faults(stated, where) + broken(
        (
            (table.shoulder is None) != (table.stripe_width_m is None),
            Fault(
                "a striped film needs both shoulder and stripe_width_m", where,
                do="state the film beside the stripe and the width of the stripe",
            ),
        )
    )  # fmt: skip


def film_of(name: str, table: FilmTable) -> ParameterSet:
    """Parameters of a film that the user described by numbers.

    Each number is the centre of its spread: ``optics_sd`` and ``optics_reach`` of ``[user_film]``
    in ``calibration/films.toml`` give the standard deviation and the bounds of the four optics,
    cut off at 0 and 1. The rest is taken as known.

    Examples
    --------
    >>> table = FilmTable(solar_reflectance=0.3, solar_transmittance=0.02,
    ...                   longwave_emittance=0.8, longwave_transmittance=0.1)
    >>> film = film_of("grey", table)
    >>> film.value("solar_reflectance"), film["solar_transmittance"].lower
    (0.3, 0.0)
    """
    spread, reach = user_film().value("optics_sd"), user_film().value("optics_reach")
    plain = {
        "reflectance_loss": table.reflectance_loss,
        "emittance_rise": table.emittance_rise,
        "contact_conductance": table.contact_conductance,
        "stripe_width": table.stripe_width_m,
    }
    parameters = {
        key: _stated(getattr(table, key), "1", spread, reach)
        for key in OPTICS
        if getattr(table, key) is not None
    } | {
        key: _stated(value, _UNITS.get(key, "1"), 0.0, 0.0)
        for key, value in plain.items()
        if value is not None
    }
    labels = {"description": table.description or "film described in the season file"}
    if table.shoulder is not None:
        labels["shoulder"] = table.shoulder
    return ParameterSet(name, parameters, labels)


def _stated(value: float, unit: str, spread: float, reach: float) -> Parameter:
    lower, upper = value - reach, value + reach
    if reach > 0.0:
        lower, upper = max(0.0, lower), min(1.0, upper)
    return Parameter(
        value, unit, lower, upper, spread, "assumed", "stated in the season file",
        "season_file", "stated by the user", True,
    )  # fmt: skip


def is_metallised(film: ParameterSet) -> bool:
    """Whether a film shows metal: by its label ``surface = "metal"``, or by its name.

    Examples
    --------
    >>> from phenocast.parameters import films
    >>> is_metallised(films()["metallised-striped"]), is_metallised(films()["silver"])
    (True, False)
    """
    surface = film.labels.get("surface")
    return surface == "metal" if surface else "metallised" in film.name.lower()


def water_warning(block: Block, film: ParameterSet) -> str | None:
    """Warning where the sprinkling water of a block may corrode its metallised film.

    Parameters
    ----------
    block : Block
    film : ParameterSet
        The film of the block.

    Returns
    -------
    str or None
        None where there is nothing to warn of.
    """
    if block.sprinkling is None or block.sprinkling.water_ph is None or not is_metallised(film):
        return None
    ph = block.sprinkling.water_ph
    limits = film_water()
    lowest, highest = limits.value("ph_lowest"), limits.value("ph_highest")
    strong = limits.value("ph_strong")
    if lowest <= ph <= highest:
        return None
    text = (
        f"block '{block.name}': water of pH {ph:g} is outside pH {lowest:g} to {highest:g}, where "
        f"the metal of film '{block.film}' is protected; its reflectance may fall during the season"
    )
    if ph > strong:
        text = f"STRONG {text}; above pH {strong:g} aluminium dissolves: treat the water first"
    return text
