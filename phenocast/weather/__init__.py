"""Any weather file's records made into one hourly table: checked, filled, flagged; and traces."""

from phenocast.weather.hourly import HourlyWeather, SeasonWeather

__all__ = ["HourlyWeather", "SeasonWeather"]
