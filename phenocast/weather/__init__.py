"""Any weather file's records made into one hourly table: checked, filled, flagged; and traces.

Names are loaded when first used, so that a run on hourly tables does not load what makes them.
"""

from typing import TYPE_CHECKING

from phenocast.lazily import names_from

if TYPE_CHECKING:
    from phenocast.weather.assembly import season_tables, to_hourly
    from phenocast.weather.daily_curves import CURVES, DEFAULT_CURVE, hours_from_extremes
    from phenocast.weather.gap_filling import MOST_MISSING_SHARE
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
    from phenocast.weather.sun import clear_sky_w_m2
    from phenocast.weather.traces import Trace, year_traces

_HOME = {
    "MOST_MISSING_SHARE": "gap_filling",
    "season_tables": "assembly",
    "to_hourly": "assembly",
    "CURVES": "daily_curves",
    "DEFAULT_CURVE": "daily_curves",
    "hours_from_extremes": "daily_curves",
    "AIR_FROM_DAILY": "hourly",
    "AIR_FROM_OTHER": "hourly",
    "AIR_INTERPOLATED": "hourly",
    "FLAG_NAMES": "hourly",
    "HUMIDITY_ESTIMATED": "hourly",
    "RAIN_ESTIMATED": "hourly",
    "SOLAR_ESTIMATED": "hourly",
    "SPREAD_FROM_DAILY": "hourly",
    "WIND_ESTIMATED": "hourly",
    "HourlyWeather": "hourly",
    "SeasonWeather": "hourly",
    "constant_weather": "hourly",
    "Checked": "quality",
    "checked": "quality",
    "VALUE_COLUMNS": "records",
    "WeatherRecords": "records",
    "clear_sky_w_m2": "sun",
    "Trace": "traces",
    "year_traces": "traces",
}

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

__getattr__ = names_from(__name__, _HOME)
