"""Any weather file's records made into one hourly table: checked, filled, flagged; and traces."""

from phenocast.weather.assembly import MOST_MISSING_SHARE, season_tables, to_hourly
from phenocast.weather.daily_curves import CURVES, DEFAULT_CURVE, hours_from_extremes
from phenocast.weather.hourly import (
    AIR_FROM_DAILY,
    AIR_FROM_OTHER,
    AIR_INTERPOLATED,
    FLAG_NAMES,
    HUMIDITY_ESTIMATED,
    RAIN_ESTIMATED,
    SOLAR_ESTIMATED,
    SPREAD_FROM_DAILY,
    WIND_ESTIMATED,
    HourlyWeather,
    SeasonWeather,
    constant_weather,
)
from phenocast.weather.quality import Checked, checked
from phenocast.weather.records import VALUE_COLUMNS, WeatherRecords
from phenocast.weather.solar import clear_sky_w_m2
from phenocast.weather.traces import Trace, year_traces

__all__ = [
    "AIR_FROM_DAILY",
    "AIR_FROM_OTHER",
    "AIR_INTERPOLATED",
    "CURVES",
    "DEFAULT_CURVE",
    "FLAG_NAMES",
    "HUMIDITY_ESTIMATED",
    "MOST_MISSING_SHARE",
    "RAIN_ESTIMATED",
    "SOLAR_ESTIMATED",
    "SPREAD_FROM_DAILY",
    "VALUE_COLUMNS",
    "WIND_ESTIMATED",
    "Checked",
    "HourlyWeather",
    "SeasonWeather",
    "Trace",
    "WeatherRecords",
    "checked",
    "clear_sky_w_m2",
    "constant_weather",
    "hours_from_extremes",
    "season_tables",
    "to_hourly",
    "year_traces",
]
