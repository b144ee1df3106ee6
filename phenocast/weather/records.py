"""What a weather file held, in internal units, before any check: the hand-over from the readers."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from phenocast.errors import Fault, raise_any

if TYPE_CHECKING:
    import pandas as pd

Step = Literal["hourly", "subhourly", "daily"]

VALUE_COLUMNS = {
    "air_c": "air temperature [degC]",
    "air_max_c": "highest air temperature of the interval [degC]",
    "air_min_c": "lowest air temperature of the interval [degC]",
    "dew_point_c": "dew point [degC]",
    "relative_humidity_pct": "relative humidity [%]",
    "vapour_pressure_kpa": "vapour pressure [kPa]",
    "wind_m_s": "mean wind at the sensor's height [m s-1]",
    "solar_w_m2": "mean solar radiation on the level [W m-2]",
    "longwave_down_w_m2": "mean longwave radiation from the sky [W m-2]",
    "rain_mm": "rain in the interval [mm]",
    "pressure_kpa": "air pressure at the station [kPa]",
    "soil_5cm_c": "soil temperature at 5 cm [degC]",
    "soil_10cm_c": "soil temperature at 10 cm [degC]",
}
"""Columns that a record may hold beside ``time_utc`` and ``row``, with meaning and unit."""


@dataclass(frozen=True)
class WeatherRecords:
    """Rows of one weather file in internal units; NaN where a value is missing.

    Parameters
    ----------
    table : DataFrame
        RangeIndex; columns ``time_utc`` (datetime64[ns], naive UTC, START of the interval; for
        daily rows the UTC instant of local standard midnight), ``row`` (1-based line in the file)
        and any of `VALUE_COLUMNS`.
    step : "hourly", "subhourly" or "daily"
    source : str
        Name of the file, for messages.
    wind_height_m : float or None
        Height of the wind sensor [m]; None where the file does not say.
    latitude, longitude : float or None
        Place named in the file [deg, north and east positive].
    elevation_m : float or None
        Elevation named in the file [m].
    utc_offset_h : float or None
        Offset of local standard time from UTC named in the file [h].
    typical_year : bool
        True for a file whose months were taken from different years; its stamps run through one
        nominal year.
    notes : tuple of str
        What the reader had to assume or change.

    Raises
    ------
    InputError
        When the table has no rows, no stamps, or a column that is not known.

    Examples
    --------
    >>> import pandas as pd
    >>> table = pd.DataFrame({
    ...     "time_utc": pd.date_range("2026-10-01", periods=2, freq="h").astype("datetime64[ns]"),
    ...     "row": [2, 3], "air_c": [18.0, 17.5]})
    >>> WeatherRecords(table, "hourly", "station.csv").columns
    ('air_c',)
    """

    table: pd.DataFrame
    step: Step
    source: str
    wind_height_m: float | None = None
    latitude: float | None = None
    longitude: float | None = None
    elevation_m: float | None = None
    utc_offset_h: float | None = None
    typical_year: bool = False
    notes: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        faults = [
            Fault(f"the records lack the column {name}", where=self.source)
            for name in ("time_utc", "row")
            if name not in self.table.columns
        ]
        faults += [
            Fault(
                "unknown weather column",
                where=self.source,
                value=str(name),
                allowed=", ".join(VALUE_COLUMNS),
            )
            for name in self.table.columns
            if name not in VALUE_COLUMNS and name not in ("time_utc", "row")
        ]
        if len(self.table) == 0:
            faults.append(Fault("the weather file has no rows", where=self.source))
        raise_any(faults)

    @property
    def columns(self) -> tuple[str, ...]:
        """Names of the value columns that are present."""
        return tuple(name for name in VALUE_COLUMNS if name in self.table.columns)
