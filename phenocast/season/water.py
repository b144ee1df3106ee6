"""Caution about sprinkling water on metallised film.

Aluminium oxide is stable in water of about pH 4 to 8.5; above pH 9 soluble aluminate forms
(recalled from handbooks of water treatment and of aluminium makers; see ``[film_water]`` in
``calibration/films.toml``). The metal of a film is tens of nanometres thick, so slow corrosion
still removes it: reflectance falls and emittance rises.
"""

from __future__ import annotations

from phenocast.parameters import ParameterSet, film_water
from phenocast.season.describe import Block


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
