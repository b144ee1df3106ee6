"""Films that the user describes in the season file, and cautions about the water on a film."""

from __future__ import annotations

from phenocast.errors import Fault, broken
from phenocast.parameters import Parameter, ParameterSet, film_water, user_film
from phenocast.parameters.user_files import OPTICS, sum_faults
from phenocast.season.model import Block
from phenocast.season.schema import FilmTable

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
