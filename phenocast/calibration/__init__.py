"""Fitting parameters to records, and ranking cultivars.

Cultivar numbers from records of picks (`CultivarCalibrator`, on block-seasons of `fit_block`), with
what the records can tell; a film and its bed from sensors (`CrownSensorCalibrator`,
`sensor_rows`); a breeder's indices from raw yields (`heat_indices`), responses to environments
(`finlay_wilkinson`, `stability_variance`, `interaction_axes`), what is not distinguishable from the
best (`against_best`), what a stated heat costs each cultivar and their order by it
(`heat_response`, `rank_draws`), what a film did beyond its crown temperature (`film_split`), the
indices and slopes of a table of yields (`regimes`, `responses`), likelihoods of dates between
visits and of shares, information criteria, and a fit of one-event series (`event_series`,
`EventModel`, `leave_one_year_out`).
"""

from phenocast.calibration.best import AgainstBest, against_best, dunnett_one_sided
from phenocast.calibration.criteria import Criteria, information_criteria
from phenocast.calibration.crown_sensors import CrownSensorCalibrator
from phenocast.calibration.cultivars import CultivarCalibrator
from phenocast.calibration.event_model import EventModel
from phenocast.calibration.event_series import EventSeries, event_series
from phenocast.calibration.event_skill import LeftOut, leave_one_year_out
from phenocast.calibration.film_split import FilmSplit, film_split, pair_films
from phenocast.calibration.fit_blocks import FitBlock, fit_block
from phenocast.calibration.heat_scenario import (
    HeatResponse,
    HeatScenario,
    heat_response,
    standard_heat,
)
from phenocast.calibration.indices import HeatIndices, heat_indices
from phenocast.calibration.likelihood import (
    interval_log_likelihood,
    plants_of_percentage,
    share_log_likelihood,
)
from phenocast.calibration.ranking import Ranking, rank_draws
from phenocast.calibration.raw_yields import Regimes, Responses, regimes, responses
from phenocast.calibration.sensor_rows import SENSORS, SensorRows, sensor_rows
from phenocast.calibration.sensor_scores import SensorScores
from phenocast.calibration.stability import (
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
    "Criteria",
    "CrownSensorCalibrator",
    "CultivarCalibrator",
    "EventModel",
    "EventSeries",
    "FilmSplit",
    "FitBlock",
    "HeatIndices",
    "HeatResponse",
    "HeatScenario",
    "LeftOut",
    "Ranking",
    "Regimes",
    "Responses",
    "SensorRows",
    "SensorScores",
    "Slopes",
    "against_best",
    "dunnett_one_sided",
    "event_series",
    "film_split",
    "finlay_wilkinson",
    "fit_block",
    "heat_indices",
    "heat_response",
    "information_criteria",
    "interaction",
    "interaction_axes",
    "interval_log_likelihood",
    "leave_one_year_out",
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
