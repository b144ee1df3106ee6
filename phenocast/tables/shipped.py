"""The tables that phenocast reads and writes.

Ranges are what can be at all on farmland; tighter checks of a weather record (steps, persistence)
are made where weather is checked.
"""

from __future__ import annotations

import math

from phenocast.tables.contract import Column, TableContract, label

_LOW, _HIGH = -60.0, 60.0  # air of farmland [degC]
_SURFACE_HIGH = 110.0  # film under a high sun in still air [degC]


def _celsius(name: str, meaning: str, upper: float = _HIGH, *, nullable: bool = False) -> Column:
    return Column(name, "degC", _LOW, upper, meaning, nullable=nullable)


def _reading(name: str, unit: str, lower: float, upper: float, meaning: str) -> Column:
    return Column(name, unit, lower, upper, meaning, nullable=True, required=False)


def _pick(name: str, unit: str, upper: float, meaning: str) -> Column:
    return Column(name, unit, 0.0, upper, meaning, nullable=True, required=False)


def _text(name: str, meaning: str) -> Column:
    return Column(name, "", -math.inf, math.inf, meaning, nullable=True, kind="text",
                  required=False)  # fmt: skip


def _name(name: str, meaning: str) -> Column:
    """A column that may be left out, but whose cells are filled where it is there."""
    return Column(name, "", -math.inf, math.inf, meaning, kind="text", required=False)


WEATHER_RECORDS = TableContract(
    "weather records",
    (
        label("time_utc", "start of the interval, UTC", "time"),
        Column("row", "1", 1, 1e9, "line of the file, from 1", kind="whole"),
        _reading("air_c", "degC", _LOW, _HIGH, "air at 1.5 to 2 m"),
        _reading("air_max_c", "degC", _LOW, _HIGH, "highest air temperature of the day"),
        _reading("air_min_c", "degC", _LOW, _HIGH, "lowest air temperature of the day"),
        _reading("dew_point_c", "degC", -80.0, 40.0, "dew point"),
        _reading("relative_humidity_pct", "%", 0.0, 110.0, "relative humidity"),
        _reading("vapour_pressure_kpa", "kPa", 0.0, 8.0, "vapour pressure"),
        _reading("wind_m_s", "m s-1", 0.0, 75.0, "wind speed"),
        _reading("solar_w_m2", "W m-2", -20.0, 1500.0, "solar radiation on the level"),
        _reading("longwave_down_w_m2", "W m-2", 80.0, 600.0, "longwave radiation of the sky"),
        _reading("rain_mm", "mm", 0.0, 1900.0, "rain of the interval"),
        _reading("pressure_kpa", "kPa", 50.0, 110.0, "air pressure of the station"),
        _reading("soil_5cm_c", "degC", -40.0, 80.0, "soil at 5 cm"),
        _reading("soil_10cm_c", "degC", -40.0, 70.0, "soil at 10 cm"),
    ),
)

HOURLY_WEATHER = TableContract(
    "hourly weather",
    (
        label("time_utc", "start of the hour, UTC", "time"),
        _celsius("air_c", "air at 2 m"),
        Column("vapour_pressure_kpa", "kPa", 0.0, 8.0, "vapour pressure"),
        Column("wind_m_s", "m s-1", 0.0, 75.0, "wind speed at 2 m"),
        Column("solar_w_m2", "W m-2", 0.0, 1500.0, "solar radiation on the level"),
        Column("longwave_down_w_m2", "W m-2", 80.0, 600.0, "longwave of the sky, where measured",
               nullable=True),
        Column("rain_mm", "mm", 0.0, 400.0, "rain of the hour"),
        Column("filled", "1", 0, 255, "bits that tell what was filled or estimated", kind="whole"),
    ),
)  # fmt: skip

CROWN_TEMPERATURES = TableContract(
    "crown temperatures",
    (
        label("block", "name of the block"),
        label("time_utc", "start of the hour, UTC", "time"),
        _celsius("air_c", "air at 2 m, under the cover where there is one", 70.0),
        _celsius("film_surface_c", "upper face of the film", _SURFACE_HIGH),
        _celsius("air_above_film_c", "air 5 cm above the film", 80.0),
        _celsius("crown_c", "crown of the plant", 80.0),
        _celsius("soil_5cm_c", "soil at 5 cm", 80.0),
        _celsius("soil_10cm_c", "soil at 10 cm, the root zone", 70.0),
        Column("canopy_cover", "1", 0.0, 1.0, "share of the bed top under leaves"),
        Column("filled", "1", 0, 255, "bits that tell what was filled or estimated", kind="whole"),
    ),
)

CANOPY_COVER = TableContract(
    "canopy cover",
    (
        label("date", "day of the reading", "day"),
        Column("cover", "1", 0.0, 1.0, "share of the bed top under leaves"),
    ),
)

WEEK_PROBABILITIES = TableContract(
    "first pick by week",
    (
        label("block", "name of the block"),
        label("week", "ISO week", "week"),
        Column("probability", "1", 0.0, 1.0, "probability that the first pick falls in the week"),
    ),
)

WEEKLY_HARVEST = TableContract(
    "weekly harvest",
    (
        label("block", "name of the block"),
        label("week", "ISO week", "week"),
        Column("g_per_plant_p10", "g plant-1", 0.0, 2000.0, "marketable fruit, low (1 in 10)"),
        Column("g_per_plant_p50", "g plant-1", 0.0, 2000.0, "marketable fruit, middle"),
        Column("g_per_plant_p90", "g plant-1", 0.0, 2000.0, "marketable fruit, high (1 in 10)"),
        Column("trays_p10", "1", 0.0, 1e8, "trays of the block, low (1 in 10)"),
        Column("trays_p50", "1", 0.0, 1e8, "trays of the block, middle"),
        Column("trays_p90", "1", 0.0, 1e8, "trays of the block, high (1 in 10)"),
    ),
)

HARVEST_RECORDS = TableContract(
    "harvest records",
    (
        label("block", "name of the block, as in the season file"),
        label("date", "day of the visit", "day"),
        _text("season", "season, where several season files have the block"),
        _text("plot", "plot of the block; plots of a block are averaged"),
        Column("plants", "1", 1, 1e8, "plants of the plot, for weights of whole plots",
               nullable=True, required=False),
        _pick("marketable_g_per_plant", "g plant-1", 500.0, "marketable fruit of the day"),
        _pick("cull_g_per_plant", "g plant-1", 500.0, "fruit picked but not marketable"),
        _pick("fruit_g_per_plant", "g plant-1", 500.0, "all fruit of the day"),
        _pick("marketable", "kg", 1e7, "marketable fruit of the whole plot; the header has a unit"),
        _pick("fruit", "kg", 1e7, "all fruit of the whole plot; the header has a unit"),
        _pick("fruits_per_plant", "1", 100.0, "fruits of the day, culls included"),
        _pick("fruit_mass_g", "g", 100.0, "mean weight of a fruit"),
        _pick("trays", "1", 1e6, "marketable fruit of the whole plot in trays of the season"),
        _text("not_picked", "why nothing was picked: none ripe (a pick of 0), or people, rain, "
              "price or closed: ripe fruit was left"),
        Column("plants_seen", "1", 1, 1e8, "plants looked at for open flowers", nullable=True,
               kind="whole", required=False),
        Column("plants_in_bloom", "1", 0, 1e8, "of these, plants with an open flower",
               nullable=True, kind="whole", required=False),
        Column("plants_counted", "1", 1, 1e8, "plants whose flowers and fruit were counted",
               nullable=True, kind="whole", required=False),
        _pick("open_flowers_per_plant", "1", 200.0, "flowers open on the day"),
        _pick("green_fruit_per_plant", "1", 300.0, "green and white fruit on the plant"),
        _pick("ripe_fruit_per_plant", "1", 100.0, "ripe fruit on the plant, before picking"),
        _pick("plants_lost_pct", "%", 100.0, "plants lost since the last visit, of those planted"),
        _text("lost_to", "freeze, hail, flood, heat, disease or removed"),
        _text("event", "first pick, no first pick, first flower or no first flower: what the visit "
              "saw"),
    ),
)  # fmt: skip

PAST_SEASONS = TableContract(
    "past seasons",
    (
        label("season", "season, as its file is named"),
        label("block", "name of the block"),
        label("cultivar", "its cultivar"),
        label("film", "its film"),
        label("transplant", "its transplant type"),
        label("planting_date", "day of planting", "day"),
        label("kind", "marketable_g_per_plant, first flower or green_fruit_per_plant"),
        Column("start_d", "d", 0.0, 500.0, "start of the window, days since planting"),
        Column("stop_d", "d", 0.0, 500.0, "its end"),
        Column("value", "", 0.0, 1e6, "what was recorded, in the unit of its kind; of a first "
               "flower the day it was seen"),
        Column("left_out_expected", "", 0.0, 1e6, "what the model expects of it that was fitted "
               "to the other seasons", nullable=True),
    ),
)  # fmt: skip

CHAMBER_TRIALS = TableContract(
    "chamber trials",
    (
        label("cultivar", "name of the cultivar, as in the season files"),
        Column("temperature_c", "degC", -5.0, 50.0, "temperature of the crown, day and night"),
        Column("photoperiod_h", "h", 0.0, 24.0, "day length"),
        Column("days", "d", 0.0, 400.0, "length of the treatment"),
        Column("plants", "1", 1, 1e5, "plants of the treatment", kind="whole"),
        Column("flowering", "1", 0, 1e5, "plants that came to flower", nullable=True, kind="whole",
               required=False),
        Column("flowering_pct", "%", 0.0, 100.0, "the same as a percentage", nullable=True,
               required=False),
    ),
)  # fmt: skip

SENSOR_READINGS = TableContract(
    "sensor readings",
    (
        label("block", "name of the block, as in the season file"),
        label("time_utc", "start of the reading's interval, UTC", "time"),
        _reading("film_surface_c", "degC", _LOW, _SURFACE_HIGH, "upper face of the film"),
        _reading("air_above_film_c", "degC", _LOW, 80.0, "air 5 cm above the film"),
        _reading("crown_c", "degC", _LOW, 80.0, "crown of the plant"),
        _reading("soil_5cm_c", "degC", _LOW, 80.0, "soil at 5 cm"),
        _reading("soil_10cm_c", "degC", _LOW, 70.0, "soil at 10 cm, the root zone"),
    ),
)

PRICES = TableContract(
    "prices",
    (
        label("week", "ISO week", "week"),
        Column("price_per_kg", "", 0.0, 1e6, "price of marketable fruit, in the grower's currency"),
        Column("low_per_kg", "", 0.0, 1e6, "price in a bad year (1 in 10)", nullable=True,
               required=False),
        Column("high_per_kg", "", 0.0, 1e6, "price in a good year (1 in 10)", nullable=True,
               required=False),
        Column("currency", "", -math.inf, math.inf, "currency of the row; one for all rows",
               kind="text", required=False),
    ),
)  # fmt: skip

TALLIES = TableContract(
    "tallies",
    (
        label("block", "name of the block, as in the season file"),
        label("date", "day of picking", "day"),
        Column("trays", "1", 0.0, 1e6, "full trays of the day"),
        Column("picker_hours", "h", 0.0, 1e5, "hours worked by all pickers together"),
        Column("pickers", "1", 0, 1e5, "pickers of the day", nullable=True, kind="whole",
               required=False),
    ),
)  # fmt: skip

TRIAL_PLOTS = TableContract(
    "trial plots",
    (
        _name("season", "each season is analysed by itself"),
        _name("site", "each site is analysed by itself"),
        label("replicate", "block that holds one whole plot of every film"),
        _name("whole_plot", "name of the bed; a bed counted as several replicates is refused"),
        _name("sub_plot", "name of the plot within its bed; one plot holds one cultivar"),
        label("film", "treatment of the whole plots"),
        label("cultivar", "treatment of the sub-plots"),
        Column("planting_date", "", -math.inf, math.inf, "day of planting; a caution where plots "
               "of a trial differ", kind="day", required=False),
        _name("transplant", "type of transplant; a caution where plots of a trial differ"),
    ),
    extra=True,
)  # fmt: skip

RANK_COLUMNS = (
    "rank", "cultivar", "estimate", "lower_80", "upper_80", "lower_95", "upper_95",
    "expected_rank", "p_best", "p_among_best_3", "may_be_best", "season_loss", "early_loss",
    "delay_d", "ssi", "sti", "tol", "gmp", "ysi", "slope_g_per_100_degree_hours",
    "stability_variance", "first_axis_score",
)  # fmt: skip
"""Columns of the table of a ranking; a file with exactly these is known as one."""

CONTRACTS = {
    contract.name: contract
    for contract in (
        WEATHER_RECORDS,
        HOURLY_WEATHER,
        CROWN_TEMPERATURES,
        CANOPY_COVER,
        WEEK_PROBABILITIES,
        WEEKLY_HARVEST,
        HARVEST_RECORDS,
        PAST_SEASONS,
        CHAMBER_TRIALS,
        SENSOR_READINGS,
        PRICES,
        TALLIES,
        TRIAL_PLOTS,
    )
}
