"""The whole season as stated, with films and cultivars of the user's own."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from phenocast.errors import InputError, unknown_name
from phenocast.parameters import ParameterSet, cultivars, films, soils, transplants
from phenocast.season.costs_stated import Costs
from phenocast.season.describe import Bed, Block, Nursery, WeatherSources
from phenocast.season.planning_stated import Labour, Prices
from phenocast.season.site import Site


@dataclass(frozen=True)
class Season:
    """Everything the user stated, checked.

    Parameters
    ----------
    site : Site
    bed : Bed
    blocks : tuple of Block
    weather : WeatherSources
    nursery : Nursery or None
    user_films, user_cultivars, user_transplants : mapping of str to ParameterSet
        Sets that the user brought; they go before shipped ones of the same name.
    labour : Labour or None
    prices : Prices or None
    costs : Costs or None
    warnings : tuple of str
        What is allowed but should be known.
    source_name : str
        File it came from.
    checked : tuple of str
        Kinds of caution whose data the user has looked at and found right.
    """

    site: Site
    bed: Bed
    blocks: tuple[Block, ...]
    weather: WeatherSources
    nursery: Nursery | None = None
    user_films: Mapping[str, ParameterSet] = field(default_factory=dict)
    user_cultivars: Mapping[str, ParameterSet] = field(default_factory=dict)
    warnings: tuple[str, ...] = ()
    source_name: str = ""
    labour: Labour | None = None
    prices: Prices | None = None
    costs: Costs | None = None
    user_transplants: Mapping[str, ParameterSet] = field(default_factory=dict)
    checked: tuple[str, ...] = ()

    def film(self, name: str) -> ParameterSet:
        """Parameters of a film by name, the user's before the shipped.

        Raises
        ------
        InputError
            Where no film has the name; the nearest is suggested.
        """
        return _named("film", name, {**films(), **self.user_films})

    def shoulder(self, name: str) -> ParameterSet | None:
        """Film beside the stripe of a striped film, None for a film of one kind."""
        beside = self.film(name).labels.get("shoulder")
        return None if beside is None else self.film(beside)

    def cultivar(self, name: str) -> ParameterSet:
        """Parameters of a cultivar by name, the user's before the shipped.

        Raises
        ------
        InputError
            Where no cultivar has the name; the nearest is suggested.
        """
        return _named("cultivar", name, {**cultivars(), **self.user_cultivars})

    def soil(self) -> ParameterSet:
        """Parameters of the soil of the bed."""
        return _named("soil", self.bed.soil, soils())

    def transplant(self, name: str) -> ParameterSet:
        """Parameters of a transplant type by name, the user's before the shipped."""
        return _named("transplant", name, {**transplants(), **self.user_transplants})

    def block(self, name: str) -> Block:
        """One block by name.

        Raises
        ------
        InputError
            Where no block has the name; the nearest is suggested.
        """
        by_name = {block.name: block for block in self.blocks}
        if name not in by_name:
            raise InputError(unknown_name("block", name, by_name))
        return by_name[name]


def _named(kind: str, name: str, known: Mapping[str, ParameterSet]) -> ParameterSet:
    if name not in known:
        raise InputError(unknown_name(kind, name, known))
    return known[name]
