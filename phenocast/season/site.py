"""Where the field is."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Site:
    """A place: name, latitude and longitude [deg, north and east positive], elevation [m], zone.

    Examples
    --------
    >>> Site("Low Quay", 29.3, -15.6, 35.0, "Atlantic/Canary").latitude
    29.3
    """

    name: str
    latitude: float
    longitude: float
    elevation_m: float
    time_zone: str
