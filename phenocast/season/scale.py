"""Cautions about sizes that a field seldom has: most often a decimal comma or a slipped point.

The spans are wide: what lies outside is told, never refused or corrected. They are common practice,
no source: beds of one season hold 30 000 to 70 000 plants a hectare, matted rows some 15 000 and
gutters or very dense beds up to 200 000; bed centres lie 0.9 to 2 m apart; a plot of a trial takes
10 m2, and a block of one planting date and film seldom 100 ha.
"""

from __future__ import annotations

from phenocast.errors import caution
from phenocast.season.whole import Season

PLANTS_PER_HA = (10_000.0, 250_000.0)
AREA_HA = (0.0005, 300.0)
ROW_SPACING_M = (0.75, 2.5)


def scale_doubts(season: Season) -> list[str]:
    """Return a caution for every plant density, area and row spacing far from usual ones.

    Parameters
    ----------
    season : Season
    """
    sizes = [("bed", "row_spacing_m", season.bed.row_spacing_m, ROW_SPACING_M, "row spacing")]
    for block in season.blocks:
        where = f"block '{block.name}'"
        sizes.append((where, "plants_per_ha", block.plants_per_ha, PLANTS_PER_HA, "plants"))
        sizes.append((where, "area_ha", block.area_ha, AREA_HA, "area"))
    return [
        caution(
            f"{where}: {key} = {value:.10g} is outside the usual {low:.10g} to {high:.10g}"
            f"{_meant(value, low, high)}; a decimal takes a point, and thousands take no sign",
            kind,
        )
        for where, key, value, (low, high), kind in sizes
        if not low <= value <= high
    ]


def _meant(value: float, low: float, high: float) -> str:
    """Say which power of ten would bring a value into its span, as a slipped sign does."""
    tens = (value * 10.0**power for power in (1, -1, 2, -2, 3, -3))
    fits = next((one for one in tens if low <= one <= high), None)
    return "" if fits is None else f" (was {fits:.10g} meant?)"
