"""The place: where the beds are, what its clock shows, and hours of that clock."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from phenocast.errors import Fault, broken, caution, meant, raise_any

# Beyond this the sun does not rise or set every day of the year, so a photoperiod is not defined.
POLAR_CIRCLE_DEG = 66.5
# Civil time strays from the sun by up to about three hours (western China); more is a mistake.
CLOCK_FROM_SUN_H = 3.5
# A site has one clock; the rules of this year stand for it where no year is at hand.
OFFSET_YEAR = 2026
# Names that a machine's zone files may hold and that mean no place: what the machine's clock shows,
# clocks that count leap seconds, and a placeholder.
OF_MACHINES = ("localtime", "posixrules", "Factory", "posix/", "right/")


@dataclass(frozen=True)
class ClockHours:
    """Hours of the day, local standard time; over midnight where the end is before the start. [h]

    Examples
    --------
    >>> ClockHours(22.0, 2.0).length_h, ClockHours(22.0, 2.0).holds(23.5)
    (4.0, True)
    """

    start: float
    end: float

    @property
    def length_h(self) -> float:
        """Length of the span. [h]"""
        return (self.end - self.start) % 24.0 or 24.0

    def holds(self, hour: float) -> bool:
        """Whether an hour of the day lies in the span, its start included. [h]"""
        return (hour - self.start) % 24.0 < self.length_h


@dataclass(frozen=True)
class Site:
    """A place on the earth with its clock.

    Parameters
    ----------
    name : str
    latitude : float
        North positive, between the polar circles. [deg]
    longitude : float
        East positive. [deg]
    elevation_m : float
        Above sea level. [m]
    time_zone : str
        IANA name, such as "Atlantic/Canary".

    Raises
    ------
    InputError
        With every fault of the place.

    Examples
    --------
    >>> site = Site("Tamarind Coast", 29.3, -15.6, 35.0, "Atlantic/Canary")
    >>> site.standard_offset_h
    0.0
    >>> Site("Far North", 71.0, 25.0, 10.0, "Europe/Oslo")
    Traceback (most recent call last):
    phenocast.errors.InputError: latitude: beyond the polar circle the sun does not rise and set...
    """

    name: str
    latitude: float
    longitude: float
    elevation_m: float
    time_zone: str

    def __post_init__(self) -> None:
        raise_any(place_faults(self.latitude, self.longitude, self.elevation_m, self.time_zone))

    @property
    def standard_offset_h(self) -> float:
        """Local standard time less UTC. [h]"""
        return standard_offset_h(self.time_zone)


def standard_offset_h(time_zone: str, year: int = OFFSET_YEAR) -> float:
    """Local standard time (no summer time) less UTC of a zone in one year. [h]

    Standard time is the smaller of the offsets in January and July, which holds in both
    hemispheres and in zones whose data call their winter time "saving".

    Parameters
    ----------
    time_zone : str
        IANA name.
    year : int

    Examples
    --------
    >>> standard_offset_h("Atlantic/Canary"), standard_offset_h("Asia/Kolkata")
    (0.0, 5.5)
    >>> standard_offset_h("Australia/Sydney", 2026), standard_offset_h("Europe/Dublin", 2026)
    (10.0, 0.0)
    """
    zone = ZoneInfo(time_zone)
    offsets = [datetime(year, month, 15, 12, tzinfo=zone).utcoffset() for month in (1, 7)]
    return min((offset or timedelta(0)).total_seconds() for offset in offsets) / 3600.0


def place_faults(
    latitude: float, longitude: float, elevation_m: float, time_zone: str
) -> list[Fault]:
    """Every fault of a place; empty where it is sound.

    Examples
    --------
    >>> [fault.where for fault in place_faults(95.0, 0.0, 0.0, "Atlantic/Canari")]
    ['latitude', 'time_zone']
    """
    within = f"-{POLAR_CIRCLE_DEG} to {POLAR_CIRCLE_DEG} degrees, north positive"
    on_earth = -90.0 <= latitude <= 90.0
    faults = broken(
        (not on_earth, Fault("not a latitude", "latitude", latitude, within)),
        (
            on_earth and abs(latitude) > POLAR_CIRCLE_DEG,
            Fault(
                "beyond the polar circle the sun does not rise and set every day, so a photoperiod"
                " is not defined there and the model does not apply", "latitude", latitude, within,
            ),
        ),
        (
            not -180.0 <= longitude <= 180.0,
            Fault(
                "not a longitude", "longitude", longitude, "-180 to 180 degrees, east positive"
            ),
        ),
        (
            not -430.0 <= elevation_m <= 6000.0,
            Fault("not an elevation of farmland", "elevation_m", elevation_m, "-430 to 6000 m"),
        ),
    )  # fmt: skip
    zone_fault = time_zone_fault(time_zone)
    return faults if zone_fault is None else [*faults, zone_fault]


def time_zone_fault(time_zone: str, where: str = "time_zone") -> Fault | None:
    """Fault of an IANA zone name, with the nearest one, or None where the name is known.

    Examples
    --------
    >>> time_zone_fault("Atlantic/Canari").do
    "did you mean 'Atlantic/Canary'?"
    >>> time_zone_fault("localtime").what
    'not the zone of a place: its clock differs from machine to machine'
    """
    from zoneinfo import available_timezones

    what, do = "unknown time zone", ""
    if time_zone.startswith(OF_MACHINES):
        what = "not the zone of a place: its clock differs from machine to machine"
    else:
        try:
            ZoneInfo(time_zone)
        except (KeyError, ValueError, OSError):
            do = meant(time_zone, sorted(available_timezones()))
        else:
            return None
    return Fault(what, where, time_zone, "an IANA name such as 'Europe/Madrid' or 'Etc/GMT+5'", do)


def clock_warning(site: Site) -> str | None:
    """Warning where clock and longitude disagree, most often a longitude of the wrong sign.

    Examples
    --------
    >>> clock_warning(Site("wrong sign", 29.3, 82.0, 35.0, "America/New_York"))[:52]
    'CAUTION: site.longitude 82 and site.time_zone Americ'
    """
    apart = site.standard_offset_h - site.longitude / 15.0
    apart = (apart + 12.0) % 24.0 - 12.0
    if abs(apart) <= CLOCK_FROM_SUN_H:
        return None
    return caution(
        f"site.longitude {site.longitude:g} and site.time_zone {site.time_zone} lie "
        f"{abs(apart):.1f} h of sun time apart: is the sign of the longitude right "
        "(east positive)",
        "place",
    )
