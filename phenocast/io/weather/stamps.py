"""Time stamps of a weather file, as text or as dates, to naive clock times or to UTC."""

import re
from dataclasses import dataclass

import numpy as np
import pandas as pd

from phenocast.errors import Gathered

STATE_FORMAT = (
    'state it in the season file, such as time_format = "%d/%m/%Y %H:%M" (day first) or '
    '"%m/%d/%Y %H:%M" (month first)'
)

FIRST_YEAR, LAST_YEAR = 1900, 2100

_DATE = r"(?P<a>\d{1,4})(?P<sep>[/.\-])(?P<b>\d{1,2})(?P=sep)(?P<c>\d{1,4})"

_CLOCK = r"(?:[T ,]+(?P<clock>\d{1,2}:\d{2}(?::\d{2}(?:[.,]\d+)?)?)\s*(?P<half>[AaPp]\.?[Mm]\.?)?)?"

_ZONE = r"\s*(?P<zone>Z|z|UTC|GMT|[+-]\d{2}(?::?\d{2})?)?"

_NUMERIC = re.compile(rf"^{_DATE}{_CLOCK}{_ZONE}$")

_COMPACT = re.compile(r"^(\d{4})(\d{2})(\d{2})(?:[T ]?(\d{2}):?(\d{2})(?::?(\d{2}))?)?(Z?)$")

_MIDNIGHT = re.compile(r"(?<![\d:])24(?=:?00(?::?00(?:\.0+)?)?(?!\d))")

_SIXTY = re.compile(r"(?::|\d{8}[T ]?\d{2}:?\d{2})60(?!\d)")

_NAMED_MONTH = (
    "%d %b %Y %H:%M", "%d-%b-%Y %H:%M", "%d %B %Y %H:%M", "%d-%b-%y %H:%M", "%b %d, %Y %H:%M",
    "%d %b %Y", "%d-%b-%Y", "%d %B %Y", "%d-%b-%y", "%b %d, %Y", "%d %b %Y %H:%M:%S",
    "%d-%b-%Y %H:%M:%S",
)  # fmt: skip

# ISO 8601 with every digit a 0, and its format.
_ISO = {"0000-00-00": "%Y-%m-%d"} | {
    f"0000-00-00{between}{clock}{zone}": f"%Y-%m-%d{between}{form}{zone}"
    for between in " T"
    for clock, form in (("00:00", "%H:%M"), ("00:00:00", "%H:%M:%S"))
    for zone in ("", "Z")
}


@dataclass(frozen=True)
class Stamps:
    """Stamps of a file.

    Parameters
    ----------
    time : DatetimeIndex
        Naive; UTC where ``utc`` is true, else whatever clock the file keeps.
    utc : bool
        The file itself states the offset of every stamp.
    dates_only : bool
        No stamp has a time of day.
    """

    time: pd.DatetimeIndex
    utc: bool
    dates_only: bool


def parse_stamps(
    texts: pd.Series, rows: np.ndarray, column: str, found: Gathered, time_format: str | None = None
) -> Stamps | None:
    """Stamps from text; None where they cannot be read, with the faults in ``found``.

    Parameters
    ----------
    texts : Series of str
        One stamp a row. ISO 8601, year first, day or month first, or a month by its name.
    rows : array of int
        Line of each in the file.
    column : str
        Name of the column, for messages.
    found : Gathered
        Takes the faults.
    time_format : str, optional
        strptime format; without it a date that can be read in two ways is a fault.

    Returns
    -------
    Stamps or None

    Examples
    --------
    >>> found = Gathered("a.csv")
    >>> texts = pd.Series(["13/10/2026 23:00", "13/10/2026 24:00"])
    >>> print(parse_stamps(texts, np.array([2, 3]), "time", found).time[1])
    2026-10-14 00:00:00
    >>> parse_stamps(pd.Series(["03/10/2026 23:00"]), np.array([2]), "time", found)
    >>> print(found.error().faults[0].what)
    the dates can be read day first or month first
    """
    plain = texts.str.strip().str.strip("'\"")
    stamps = None if time_format is not None else _iso_alike(plain)
    midnight = np.zeros(len(plain), dtype=bool)
    if stamps is None:
        midnight = plain.str.contains(_MIDNIGHT).to_numpy(dtype=bool)
        if midnight.any():
            plain = plain.where(~midnight, plain.str.replace(_MIDNIGHT, "00", regex=True))
        if time_format is not None:
            stamps = _by_format(plain, rows, column, found, time_format)
        else:
            stamps = _iso_alike(plain) or _by_shape(plain, rows, column, found)
    if stamps is None:
        return None
    years = stamps.time.year.to_numpy()
    if not years_fit(years, texts, rows, column, found, STATE_FORMAT):
        return None
    sixty = plain.str.contains("60", regex=False).to_numpy(dtype=bool)
    if sixty.any():  # strptime would move them to the next minute
        sixty = plain.str.contains(_SIXTY).to_numpy(dtype=bool)
    if found.add_rows(
        "a minute has no second 60",
        rows=rows[sixty],
        values=texts[sixty].to_numpy(),
        column=column,
        allowed="00 to 59",
        do="write the next minute where it is meant; an interval has no leap second",
    ):
        return None
    time = stamps.time
    if midnight.any():
        time = time + pd.to_timedelta(midnight.astype("int64"), unit="D")
    return Stamps(pd.DatetimeIndex(time).as_unit("ns"), stamps.utc, stamps.dates_only)


def stamps_of(
    column: pd.Series, rows: np.ndarray, name: str, found: Gathered, time_format: str | None = None
) -> Stamps | None:
    """Stamps of a column of times or of texts; NaT for a time that is missing.

    Parameters, result and faults as `parse_stamps`.

    Examples
    --------
    >>> times = pd.Series(pd.date_range("2026-10-05", periods=2, freq="h", tz="Europe/Madrid"))
    >>> stamps = stamps_of(times, np.array([1, 2]), "time", Gathered("a.parquet"))
    >>> str(stamps.time[0]), stamps.utc
    ('2026-10-04 22:00:00', True)
    """
    if not pd.api.types.is_datetime64_any_dtype(column):
        texts = column.astype("str").where(column.notna(), "")
        return parse_stamps(texts, rows, name, found, time_format)
    time = pd.DatetimeIndex(column)
    utc = time.tz is not None
    time = time.tz_convert("UTC").tz_localize(None) if utc else time
    there = np.asarray(time.notna())
    if not years_fit(time.year.to_numpy()[there], pd.Series(time)[there], rows[there], name, found):
        return None
    return Stamps(time.as_unit("ns"), utc, False)


def _by_format(
    texts: pd.Series, rows: np.ndarray, column: str, found: Gathered, time_format: str
) -> Stamps | None:
    """Stamps by the format that the user stated."""
    has_offset = "%z" in time_format
    try:
        time = pd.to_datetime(texts, format=time_format, errors="coerce", utc=has_offset)
    except Exception as error:  # of the parser of formats: of many kinds, all about the format
        found.add("not a time format", column=column, value=time_format, do=str(error))
        return None
    bad = time.isna().to_numpy()
    if found.add_rows(
        "the stamp does not follow the stated time_format",
        rows=rows[bad],
        values=texts[bad].to_numpy(),
        column=column,
        allowed=time_format,
    ):
        return None
    if has_offset:
        time = time.dt.tz_localize(None)
    has_clock = re.search(r"%[HIcXTs]", time_format) is not None
    return Stamps(pd.DatetimeIndex(time), has_offset, not has_clock)


def _iso_alike(texts: pd.Series) -> Stamps | None:
    """Stamps that all have the ISO form of the first; None otherwise. Fast, for long files."""
    first = str(texts.iloc[0]) if len(texts) else ""
    form = _ISO.get(re.sub(r"\d", "0", first))
    if form is None:
        return None
    time = pd.to_datetime(texts, format=form, errors="coerce")
    if time.isna().any():
        return None
    return Stamps(pd.DatetimeIndex(time), form.endswith("Z"), "%H" not in form)


def _by_shape(texts: pd.Series, rows: np.ndarray, column: str, found: Gathered) -> Stamps | None:
    """Stamps by what they look like; every date must be readable in one way only."""
    parts = texts.str.extract(_NUMERIC)
    fits = parts["a"].notna().to_numpy()
    if not fits.all():
        other = _other_shapes(texts)
        if other is not None:
            return other
        found.add_rows(
            "not a date and time",
            rows=rows[~fits], values=texts[~fits].to_numpy(), column=column,
            allowed="2026-10-05 13:00, 2026-10-05T13:00Z, 13/10/2026 13:00", do=STATE_FORMAT,
        )  # fmt: skip
        return None
    zone = parts["zone"].notna().to_numpy()
    if zone.any() and not zone.all():
        found.add_rows(
            "some stamps state their offset from UTC and others do not",
            rows=rows[~zone], values=texts[~zone].to_numpy(), column=column,
            do="write all of them in one way",
        )  # fmt: skip
        return None
    ordered = _year_month_day(parts, texts, rows, column, found)
    if ordered is None:
        return None
    # before pandas sees them: its older versions know no year 1026, and would say "no such day"
    years = ordered.str.slice(0, 4).astype(int).to_numpy()
    if not years_fit(years, texts, rows, column, found, STATE_FORMAT):
        return None
    clock = parts["clock"].fillna("00:00").str.replace(",", ".", regex=False)
    half = parts["half"].str.upper().str.replace(".", "", regex=False)
    offset = parts["zone"].fillna("").str.upper().replace({"UTC": "Z", "GMT": "Z"})
    text = ordered + " " + clock.where(half.isna(), clock + " " + half.fillna("")) + offset
    time = pd.to_datetime(
        text, format="mixed" if half.notna().any() else "ISO8601", errors="coerce",
        utc=bool(zone.any()), yearfirst=True,
    )  # fmt: skip
    if half.isna().all() and time.isna().any():  # "7:05" is not ISO, yet plain enough
        time = pd.to_datetime(
            text, format="mixed", errors="coerce", utc=bool(zone.any()), yearfirst=True
        )
    bad = time.isna().to_numpy()
    if found.add_rows(
        "there is no such day or time",
        rows=rows[bad],
        values=texts[bad].to_numpy(),
        column=column,
        do="if day and month are swapped, " + STATE_FORMAT,
    ):
        return None
    if zone.any():
        time = time.dt.tz_localize(None)
    return Stamps(pd.DatetimeIndex(time), bool(zone.any()), bool(parts["clock"].isna().all()))


def years_fit(
    years: np.ndarray,
    texts: pd.Series,
    rows: np.ndarray,
    column: str,
    found: Gathered,
    do: str = "",
) -> bool:
    """Whether all years are in range; a fault with its rows where they are not.

    Parameters
    ----------
    years : array of int, [n]
    texts : Series
        Stamps as they stand in the file, for the message.
    rows : array of int, [n]
    column : str
        Name of the column of stamps.
    found : Gathered
        Takes the fault.
    do : str
        What to do about it.
    """
    odd = (years < FIRST_YEAR) | (years > LAST_YEAR)
    found.add_rows(
        "the year is out of range",
        rows=rows[odd],
        values=texts[odd].astype("str").to_numpy(),
        column=column,
        allowed=f"{FIRST_YEAR} to {LAST_YEAR}",
        do=do,
    )
    return not odd.any()


def check_days(time: pd.DatetimeIndex, texts: pd.Series, rows: np.ndarray, found: Gathered) -> None:
    """Refuse stamps of a fixed format that are no days, or days out of range.

    Parameters
    ----------
    time : DatetimeIndex, [n]
        NaT where a stamp could not be read.
    texts : Series of str
        Stamps as they stand in the file, for the message.
    rows : array of int, [n]
    found : Gathered
        Takes the faults.

    Raises
    ------
    InputError
    """
    bad = np.asarray(time.isna())
    found.add_rows("there is no such day or time", rows=rows[bad], values=texts[bad].to_numpy())
    years_fit(time.year.to_numpy()[~bad], texts[~bad], rows[~bad], "date", found)
    found.raise_any()


def _year_month_day(
    parts: pd.DataFrame, texts: pd.Series, rows: np.ndarray, column: str, found: Gathered
) -> pd.Series | None:
    """Dates as year-month-day text; None, with a fault, where the order cannot be known."""
    lengths = parts["a"].str.len().to_numpy()
    if (lengths == 4).all():
        year, month, day = parts["a"], parts["b"], parts["c"]
    elif (lengths <= 2).all() and parts["c"].str.len().isin((2, 4)).all():
        first, second = parts["a"].astype(int).to_numpy(), parts["b"].astype(int).to_numpy()
        day_first, month_first = first > 12, second > 12
        if day_first.any() and month_first.any():
            rival = month_first if day_first.argmax() < month_first.argmax() else day_first
            found.add_rows(
                "some dates have the day first and others the month",
                rows=rows[rival], values=texts[rival].to_numpy(), column=column,
                do="write all of them in one way, best as 2026-10-05",
            )  # fmt: skip
            return None
        if not day_first.any() and not month_first.any():
            found.add(
                "the dates can be read day first or month first",
                row=int(rows[0]), column=column, value=texts.iloc[0], do=STATE_FORMAT,
            )  # fmt: skip
            return None
        day, month = (parts["a"], parts["b"]) if day_first.any() else (parts["b"], parts["a"])
        short = parts["c"].str.len() == 2
        year = parts["c"].where(~short, "20" + parts["c"])
    else:
        found.add(
            "the dates are written in several ways", row=int(rows[0]), column=column,
            value=texts.iloc[0], allowed="one way, best as 2026-10-05", do=STATE_FORMAT,
        )  # fmt: skip
        return None
    return year + "-" + month.str.zfill(2) + "-" + day.str.zfill(2)


def _other_shapes(texts: pd.Series) -> Stamps | None:
    """Stamps without separators, or with the month by its name; None where it is neither."""
    compact = texts.str.extract(_COMPACT)
    if compact[0].notna().all():
        clock = compact[[3, 4, 5]].fillna("00")
        text = compact[0] + compact[1] + compact[2] + clock[3] + clock[4] + clock[5]
        time = pd.to_datetime(text, format="%Y%m%d%H%M%S", errors="coerce")
        if time.notna().all():
            utc = bool((compact[6] == "Z").all())
            return Stamps(pd.DatetimeIndex(time), utc, bool(compact[3].isna().all()))
    for pattern in _NAMED_MONTH:
        time = pd.to_datetime(texts, format=pattern, errors="coerce")
        if time.notna().all():
            return Stamps(pd.DatetimeIndex(time), False, "%H" not in pattern)
    return None
