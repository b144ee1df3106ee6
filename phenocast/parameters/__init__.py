"""Numbers with unit, bounds, spread, basis and source, and the shipped sets of them."""

from phenocast.parameters.certificate import Parameter, parameter_from_mapping
from phenocast.parameters.even_draws import even_shares, normal_scores
from phenocast.parameters.location import shipped
from phenocast.parameters.sets import ParameterSet, merged
from phenocast.parameters.shelf import (
    bed,
    conditioning,
    cultivars,
    film_water,
    film_words,
    films,
    frost,
    frost_rates,
    labour,
    overtime_examples,
    packs,
    parameter_set,
    price_shapes,
    read_toml,
    references,
    scenarios,
    shelters,
    soils,
    species,
    transplants,
    user_film,
)
from phenocast.parameters.spreads import (
    FIELD_SPREADS,
    PLOT_LEVEL_SD,
    SEASON_LEVEL_SD,
    SEASON_SHIFT_SD,
)
from phenocast.parameters.toml_text import parameter_toml
from phenocast.parameters.users import cultivars_from, film_from, transplants_from

__all__ = [
    "FIELD_SPREADS",
    "PLOT_LEVEL_SD",
    "SEASON_LEVEL_SD",
    "SEASON_SHIFT_SD",
    "Parameter",
    "ParameterSet",
    "bed",
    "conditioning",
    "cultivars",
    "cultivars_from",
    "even_shares",
    "film_from",
    "film_water",
    "film_words",
    "films",
    "frost",
    "frost_rates",
    "labour",
    "merged",
    "normal_scores",
    "overtime_examples",
    "packs",
    "parameter_from_mapping",
    "parameter_set",
    "parameter_toml",
    "price_shapes",
    "read_toml",
    "references",
    "scenarios",
    "shelters",
    "shipped",
    "soils",
    "species",
    "transplants",
    "transplants_from",
    "user_film",
]
