"""Fitting parameters to records, and ranking cultivars.

Cultivar numbers from records of picks (`CultivarCalibrator`, on block-seasons of `fit_block`), with
what the records can tell; a film and its bed from sensors (`CrownSensorCalibrator`,
`sensor_rows`); a breeder's indices from raw yields (`heat_indices`), responses to environments
(`finlay_wilkinson`, `stability_variance`, `interaction_axes`), what is not distinguishable from the
best (`against_best`), what a stated heat costs each cultivar and their order by it
(`heat_response`, `rank_draws`), what a film did beyond its crown temperature (`film_split`), the
indices and slopes of a table of yields (`regimes`, `responses`), likelihoods of dates between
visits and of shares, and a fit of one-event series (`event_table`, `EventModel`).
"""

from phenocast.calibration.cultivar.blocks import FitBlock, fit_block
from phenocast.calibration.cultivar.estimator import CultivarCalibrator
from phenocast.calibration.cultivar.likelihood import (
    interval_log_likelihood,
    plants_of_percentage,
    share_log_likelihood,
)
from phenocast.calibration.events import EventModel, event_table
from phenocast.calibration.film.estimator import CrownSensorCalibrator
from phenocast.calibration.film.readings import SENSORS, SensorRows, SensorScores, sensor_rows
from phenocast.calibration.ranking.film_effect import FilmSplit, film_split, pair_films
from phenocast.calibration.ranking.heat_response import (
    HeatResponse,
    HeatScenario,
    heat_response,
    standard_heat,
)
from phenocast.calibration.ranking.indices import (
    HeatIndices,
    Regimes,
    Responses,
    heat_indices,
    regimes,
    responses,
)
from phenocast.calibration.ranking.ranking import (
    AgainstBest,
    Ranking,
    against_best,
    dunnett_one_sided,
    rank_draws,
)
from phenocast.calibration.ranking.stability import (
    Axes,
    Slopes,
    finlay_wilkinson,
    interaction,
    interaction_axes,
    stability_variance,
)

__all__ = [
    "SENSORS",
    "AgainstBest",
    "Axes",
    "CrownSensorCalibrator",
    "CultivarCalibrator",
    "EventModel",
    "FilmSplit",
    "FitBlock",
    "HeatIndices",
    "HeatResponse",
    "HeatScenario",
    "Ranking",
    "Regimes",
    "Responses",
    "SensorRows",
    "SensorScores",
    "Slopes",
    "against_best",
    "dunnett_one_sided",
    "event_table",
    "film_split",
    "finlay_wilkinson",
    "fit_block",
    "heat_indices",
    "heat_response",
    "interaction",
    "interaction_axes",
    "interval_log_likelihood",
    "pair_films",
    "plants_of_percentage",
    "rank_draws",
    "regimes",
    "responses",
    "sensor_rows",
    "share_log_likelihood",
    "stability_variance",
    "standard_heat",
]
