"""Any weather file's records made into one hourly table: checked, filled, flagged; and traces."""

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
from phenocast.weather.records import VALUE_COLUMNS, WeatherRecords

__all__ = [
    "AIR_FROM_DAILY",
    "AIR_FROM_OTHER",
    "AIR_INTERPOLATED",
    "FLAG_NAMES",
    "HUMIDITY_ESTIMATED",
    "RAIN_ESTIMATED",
    "SOLAR_ESTIMATED",
    "SPREAD_FROM_DAILY",
    "VALUE_COLUMNS",
    "WIND_ESTIMATED",
    "HourlyWeather",
    "SeasonWeather",
    "WeatherRecords",
    "constant_weather",
]
