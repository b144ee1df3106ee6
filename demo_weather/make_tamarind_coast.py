"""Make the invented weather of the Tamarind Coast from the statistics in tamarind_coast.toml.

Run ``python demo_weather/make_tamarind_coast.py`` to write every invented file of this folder
again, byte for byte in its values. Nothing here is a measurement; see README.md.

The chain: correlated day-to-day anomalies (maximum, minimum, cloud, wind, dew point) on top of a
slow anomaly of the month -> a table of days -> hours by a daily curve and the sun's position.
Each month of hours has a random stream of its own, so one month can be made again by itself.
"""

from __future__ import annotations

import argparse
import datetime as dt
import tomllib
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pvlib
import pyarrow as pa
import pyarrow.parquet as pq
from scipy.interpolate import CubicSpline
from scipy.special import ndtr
from scipy.stats import beta, gamma

HERE = Path(__file__).resolve().parent
LATENTS = ("max", "min", "sky", "wind", "dew")
DECIMALS = {"air_c": 1, "dew_point_c": 1, "wind_m_s": 1, "solar_w_m2": 0, "rain_mm": 1}
MIN_DAILY_RANGE_C = 2.5
MIN_NIGHT_FALL_C = 1.0


def statistics(path: Path = HERE / "tamarind_coast.toml") -> dict[str, Any]:
    """Read the stated statistics."""
    return tomllib.loads(path.read_text(encoding="utf-8"))


# ---------------------------------------------------------------------------- days
def by_day(monthly: list[float], days: pd.DatetimeIndex) -> np.ndarray:
    """Carry monthly means to days [n_days] by a spline that closes over New Year."""
    centres = np.array(
        [15.5, 45.2, 74.7, 105.2, 135.7, 166.2, 196.7, 227.7, 258.2, 288.7, 319.2, 349.7]
    )
    x = np.append(centres, centres[0] + 365.25)
    spline = CubicSpline(x, np.append(monthly, monthly[0]), bc_type="periodic")
    return spline(days.day_of_year.to_numpy() - 0.5)


def autoregression(noise: np.ndarray, rho: float) -> np.ndarray:
    """Turn white noise [n] of unit variance into a lag-one series of unit variance."""
    out = np.empty_like(noise)
    out[0] = noise[0]
    scale = np.sqrt(1.0 - rho**2)
    for i in range(1, noise.size):
        out[i] = rho * out[i - 1] + scale * noise[i]
    return out


def day_noise(seed: int, n_days: int) -> np.ndarray:
    """White noise [n_days, 5] that drives the days."""
    return np.random.default_rng([seed, 1]).standard_normal((n_days, len(LATENTS)))


def slow_anomalies(stats: dict[str, Any], seed: int, days: pd.DatetimeIndex) -> np.ndarray:
    """Anomaly of the month for maximum and minimum [n_days, 2, degC].

    Its sd is what is left of the stated year-to-year sd after the share that day-to-day weather
    alone gives to a monthly mean.
    """
    t = stats["temperature"]
    rho, r = t["day_autocorrelation"], t["max_min_correlation"]
    months = days.to_period("M")
    unique = months.unique()
    noise = np.random.default_rng([seed, 2]).standard_normal((len(unique), 2))
    noise[:, 1] = r * noise[:, 0] + np.sqrt(1.0 - r**2) * noise[:, 1]
    unit = np.column_stack(
        [autoregression(noise[:, j], t["month_autocorrelation"]) for j in (0, 1)]
    )
    month = unique.month.to_numpy() - 1
    n = unique.days_in_month.to_numpy()
    lags = np.arange(1, 31)[:, None]
    from_days = (1.0 + 2.0 * np.sum(np.clip(1.0 - lags / n, 0, 1) * rho**lags, axis=0)) / n
    out = np.empty((len(unique), 2))
    for j, kind in enumerate(("max", "min")):
        total = np.array(t[f"{kind}_year_sd_c"])[month] ** 2
        left = total - np.array(t[f"{kind}_day_sd_c"])[month] ** 2 * from_days
        if (left < 0).any():
            raise ValueError(f"{kind}_year_sd_c is below what day-to-day weather gives by itself")
        out[:, j] = np.sqrt(left) * unit[:, j]
    return out[unique.get_indexer(months)]


def daily_weather(
    stats: dict[str, Any], seed: int, days: pd.DatetimeIndex, noise: np.ndarray | None = None
) -> pd.DataFrame:
    """Days of weather: air_max_c, air_min_c, clear_index, wind_m_s, dew_point_c, rain_mm."""
    white = day_noise(seed, len(days)) if noise is None else noise
    t, sky, wind, dew, rain = (
        stats[k] for k in ("temperature", "sky", "wind", "dew_point", "rain")
    )
    r = t["max_min_correlation"]
    a, b = sky["correlation_with_max"], sky["correlation_with_min"]
    correlation = np.array([[1.0, r, a], [r, 1.0, b], [a, b, 1.0]])
    mixed = white.copy()
    mixed[:, :3] = white[:, :3] @ np.linalg.cholesky(correlation).T
    rhos = (
        t["day_autocorrelation"],
        t["day_autocorrelation"],
        sky["day_autocorrelation"],
        wind["day_autocorrelation"],
        dew["day_autocorrelation"],
    )
    z = {
        k: autoregression(mixed[:, i], rho)
        for i, (k, rho) in enumerate(zip(LATENTS, rhos, strict=True))
    }

    slow = slow_anomalies(stats, seed, days)
    high = by_day(t["max_c"], days) + by_day(t["max_day_sd_c"], days) * z["max"] + slow[:, 0]
    low = by_day(t["min_c"], days) + by_day(t["min_day_sd_c"], days) * z["min"] + slow[:, 1]
    low = np.minimum(low, high - MIN_DAILY_RANGE_C)
    low[1:] = np.minimum(low[1:], high[:-1] - MIN_NIGHT_FALL_C)

    month = days.month.to_numpy() - 1
    cloud_rank = ndtr(z["sky"])
    mean, sd = (np.array(sky[k])[month] for k in ("clear_index", "clear_index_sd"))
    width = sky["highest"] - sky["lowest"]
    m, s = (mean - sky["lowest"]) / width, sd / width
    strength = m * (1.0 - m) / s**2 - 1.0
    clear = sky["lowest"] + width * beta.ppf(cloud_rank, m * strength, (1.0 - m) * strength)

    share = np.array(rain["wet_day_share"])[month]
    scale = np.array(rain["wet_day_mm"])[month] / rain["gamma_shape"]
    wet = cloud_rank < share
    amount = np.zeros(len(days))
    # the darker the wet day, the more it rains
    amount[wet] = gamma.ppf(1.0 - cloud_rank[wet] / share[wet], rain["gamma_shape"]) * scale[wet]

    return pd.DataFrame(
        {
            "air_max_c": high,
            "air_min_c": low,
            "clear_index": clear,
            "wind_m_s": by_day(wind["mean_m_s"], days)
            * np.exp(wind["log_day_sd"] * z["wind"] - 0.5 * wind["log_day_sd"] ** 2),
            "dew_point_c": low
            - by_day(dew["depression_c"], days)
            - by_day(dew["depression_sd_c"], days) * z["dew"],
            "rain_mm": amount,
        },
        index=days,
    )


# ---------------------------------------------------------------------------- hours
def clear_sky_w_m2(stats: dict[str, Any], hours: pd.DatetimeIndex) -> np.ndarray:
    """Clear-sky solar radiation, mean of each hour [n_hours, W m-2] (pvlib, Ineichen and Perez)."""
    site = stats["site"]
    total = np.zeros(len(hours))
    for minutes in (7.5, 22.5, 37.5, 52.5):
        at = (hours + pd.Timedelta(minutes=minutes)).tz_localize("UTC")
        sun = pvlib.solarposition.get_solarposition(
            at, site["latitude"], site["longitude"], site["elevation_m"], method="nrel_numpy"
        )
        zenith = sun["apparent_zenith"].to_numpy()
        up = zenith < 90.0
        zenith = zenith[up]
        turbidity = np.array(stats["sky"]["linke_turbidity"])[hours.month.to_numpy()[up] - 1]
        airmass = pvlib.atmosphere.get_absolute_airmass(
            pvlib.atmosphere.get_relative_airmass(zenith),
            pvlib.atmosphere.alt2pres(site["elevation_m"]),
        )
        sky = pvlib.clearsky.ineichen(zenith, airmass, turbidity, site["elevation_m"])
        total[up] += np.asarray(sky["ghi"], dtype=float)
    return total / 4.0


def solar_noon_and_sunrise(
    stats: dict[str, Any], days: pd.DatetimeIndex
) -> tuple[np.ndarray, np.ndarray]:
    """Solar noon and sunrise of each day [hours after 00:00 UTC]."""
    site = stats["site"]
    rise = pvlib.solarposition.sun_rise_set_transit_spa(
        days.tz_localize("UTC"), site["latitude"], site["longitude"]
    )
    start = days.tz_localize("UTC")
    hour = pd.Timedelta(hours=1)
    return (
        ((pd.DatetimeIndex(rise["transit"]) - start) / hour).to_numpy(),
        ((pd.DatetimeIndex(rise["sunrise"]) - start) / hour).to_numpy(),
    )


def air_curve(
    stats: dict[str, Any], daily: pd.DataFrame, hour_of: np.ndarray, day_of: np.ndarray
) -> np.ndarray:
    """Air temperature at hour `hour_of` of day number `day_of` of `daily` [degC].

    Half a cosine from the minimum at sunrise to the maximum, and a skewed one down to the next
    minimum. The first and last day of `daily` only serve as neighbours.
    """
    noon, rise = solar_noon_and_sunrise(stats, pd.DatetimeIndex(daily.index))
    top = noon + stats["day_curve"]["max_hours_after_noon"]
    high, low = daily["air_max_c"].to_numpy(), daily["air_min_c"].to_numpy()
    d, h = day_of, hour_of
    rising = 0.5 * (1.0 - np.cos(np.pi * np.clip((h - rise[d]) / (top[d] - rise[d]), 0.0, 1.0)))
    day = low[d] + (high[d] - low[d]) * rising

    def fall(
        since: np.ndarray, night: np.ndarray, start: np.ndarray, end: np.ndarray
    ) -> np.ndarray:
        s = np.clip(since / night, 0.0, 1.0) ** stats["day_curve"]["evening_power"]
        return end + (start - end) * 0.5 * (1.0 + np.cos(np.pi * s))

    after = np.minimum(d + 1, len(daily) - 1)
    before = np.maximum(d - 1, 0)
    evening = fall(h - top[d], 24.0 + rise[after] - top[d], high[d], low[after])
    morning = fall(24.0 + h - top[before], 24.0 + rise[d] - top[before], high[before], low[d])
    return np.where(h < rise[d], morning, np.where(h > top[d], evening, day))


def hours_of_month(
    stats: dict[str, Any], seed: int, daily: pd.DataFrame, month: pd.Period
) -> pd.DataFrame:
    """Hours of one month, cut to the days of `daily` that have a neighbour on both sides."""
    of_this = np.flatnonzero((pd.DatetimeIndex(daily.index).to_period("M") == month)[1:-1]) + 1
    daily = daily.iloc[of_this[0] - 1 : of_this[-1] + 2]  # with one neighbour on both sides
    index = pd.DatetimeIndex(daily.index)
    inside = np.arange(1, len(daily) - 1)
    rng = np.random.default_rng([seed, 3, month.year, month.month])
    n_full = month.days_in_month * 24
    cloud_noise, wind_noise = rng.standard_normal(n_full), rng.standard_normal(n_full)
    shower = rng.random((month.days_in_month, 2))

    day_of = np.repeat(inside, 24)
    hour = np.tile(np.arange(24), inside.size)
    time = index[inside].repeat(24) + pd.to_timedelta(hour, unit="h")
    of_month = (time.day.to_numpy() - 1) * 24 + hour
    air = air_curve(stats, daily, hour + 0.5, day_of)

    dew_daily = daily["dew_point_c"].to_numpy()
    x = day_of + (hour + 0.5) / 24.0
    dew = np.minimum(np.interp(x, np.arange(len(daily)) + 0.25, dew_daily), air)

    sky = stats["sky"]
    k = daily["clear_index"].to_numpy()[day_of]
    wiggle = autoregression(cloud_noise, sky["hour_autocorrelation"])[of_month]
    k = np.clip(k + 4.0 * k * (1.0 - k) * sky["hour_sd"] * wiggle, 0.03, sky["highest"])
    solar = k * clear_sky_w_m2(stats, time)

    wind = stats["wind"]
    noon = 12.0 - stats["site"]["longitude"] / 15.0
    swing = 1.0 + wind["daily_swing"] * np.cos(2.0 * np.pi * (hour + 0.5 - noon - 3.0) / 24.0)
    gust = np.exp(wind["hour_sd"] * wind_noise[of_month] - 0.5 * wind["hour_sd"] ** 2)
    speed = daily["wind_m_s"].to_numpy()[day_of] * swing * gust

    rain = np.zeros(time.size)
    for i, d in enumerate(inside):
        amount = daily["rain_mm"].iloc[d]
        if amount > 0.0:
            start, length = shower[index[d].day - 1]
            lasts = 1 + int(length * stats["rain"]["longest_shower_h"])
            first = i * 24 + int(start * (24 - lasts))
            rain[first : first + lasts] = amount / lasts

    air = np.round(air, 1)
    return pd.DataFrame(
        {
            "time": time,
            "air_c": air,
            "dew_point_c": np.minimum(np.floor(dew * 10.0) / 10.0, air),
            "wind_m_s": np.round(np.maximum(speed, 0.1), 1),
            "solar_w_m2": np.floor(solar),  # never above the clear sky
            "rain_mm": np.round(rain, 1),
        }
    )


def hourly(stats: dict[str, Any], seed: int, daily: pd.DataFrame) -> pd.DataFrame:
    """All hours of `daily` without its first and last day."""
    months = pd.DatetimeIndex(daily.index)[1:-1].to_period("M").unique()
    return pd.concat([hours_of_month(stats, seed, daily, m) for m in months], ignore_index=True)


def padded_days(start: dt.date, end: dt.date) -> pd.DatetimeIndex:
    """Days from the one before `start` to the one after `end`."""
    one = pd.Timedelta(days=1)
    return pd.date_range(pd.Timestamp(start) - one, pd.Timestamp(end) + one, freq="D")


# ---------------------------------------------------------------------------- files
def history_days(stats: dict[str, Any]) -> pd.DataFrame:
    """Days of the invented past years."""
    span = stats["span"]
    days = padded_days(span["history_start"], span["history_end"])
    return daily_weather(stats, stats["seed"]["history"], days)


def history(stats: dict[str, Any]) -> pd.DataFrame:
    """Hours of the invented past years."""
    return hourly(stats, stats["seed"]["history"], history_days(stats))


def season_noise(stats: dict[str, Any], member: int | None) -> tuple[pd.DatetimeIndex, np.ndarray]:
    """Days and noise of the season so far and the outlook days after it.

    The members of the outlook share the season so far. Afterwards each drifts from the common
    line, half of it on the first day, all of it at the end of the outlook.
    """
    span, seed = stats["span"], stats["seed"]
    end = span["season_end"] + dt.timedelta(days=span["outlook_days"])
    days = padded_days(span["season_start"], end)
    noise = day_noise(seed["season"], len(days))
    if member is not None:
        own = np.random.default_rng([seed["outlook"], member]).standard_normal(noise.shape)
        lead = (days - pd.Timestamp(span["season_end"])).days.to_numpy()
        share = np.where(
            lead > 0, np.minimum(0.5 + 0.5 * (lead - 1) / (span["outlook_days"] - 1), 1.0), 0.0
        )
        noise = np.sqrt(1.0 - share**2)[:, None] * noise + share[:, None] * own
    return days, noise


def season_so_far(stats: dict[str, Any]) -> pd.DataFrame:
    """Hours of the season from its start to the last observed day."""
    seed = stats["seed"]["season"]
    days, noise = season_noise(stats, None)
    table = hourly(stats, seed, daily_weather(stats, seed, days, noise))
    return table[table["time"] < pd.Timestamp(stats["span"]["season_end"]) + pd.Timedelta(days=1)]


def outlook(stats: dict[str, Any]) -> pd.DataFrame:
    """Hours of the outlook days, one block of rows a member (column `member`, from 1)."""
    seed = stats["seed"]["season"]
    start = pd.Timestamp(stats["span"]["season_end"]) + pd.Timedelta(days=1)
    parts = []
    for member in range(1, stats["span"]["outlook_members"] + 1):
        days, noise = season_noise(stats, member)
        table = hourly(stats, seed + member, daily_weather(stats, seed, days, noise))
        table = table[table["time"] >= start]
        table.insert(0, "member", member)
        parts.append(table)
    return pd.concat(parts, ignore_index=True)


def grower_logger(stats: dict[str, Any], season: pd.DataFrame) -> pd.DataFrame:
    """Four weeks as a grower's own logger would give them, faults and all.

    Degrees Fahrenheit, miles per hour, inches, the local clock with summer time, the END of the
    hour, gaps, a stuck sensor, one impossible reading. Humidity instead of dew point.
    """
    span, site = stats["span"], stats["site"]
    rng = np.random.default_rng(stats["seed"]["logger"])
    keep = (season["time"] >= pd.Timestamp(span["logger_start"])) & (
        season["time"] < pd.Timestamp(span["logger_end"]) + pd.Timedelta(days=1)
    )
    table = season[keep].reset_index(drop=True)
    air = table["air_c"].to_numpy() + rng.normal(0.0, 0.15, len(table))
    saturation = [np.exp(17.27 * t / (t + 237.3)) for t in (table["dew_point_c"].to_numpy(), air)]
    humidity = np.clip(100.0 * saturation[0] / saturation[1], 5.0, 100.0)
    local = (
        (table["time"] + pd.Timedelta(hours=1))
        .dt.tz_localize("UTC")
        .dt.tz_convert(site["time_zone"])
    )
    out = pd.DataFrame(
        {
            "Logged at": local.dt.strftime("%Y-%m-%d %H:%M"),
            "Air temp [degF]": (air * 1.8 + 32.0).round(1),
            "Humidity [%]": humidity.round(0),
            "Wind [mph]": (table["wind_m_s"] / 0.44704).round(1),
            "Solar [W m-2]": table["solar_w_m2"].round(0),
            "Rain [in]": (table["rain_mm"] / 25.4).round(2),
        }
    )
    air_column = "Air temp [degF]"
    out.loc[60:61, air_column] = np.nan  # two hours, left blank
    out.loc[200:211, out.columns[1:]] = np.nan  # half a day, logger without power
    out.loc[400:402, "Solar [W m-2]"] = np.nan
    out.loc[451, air_column] = 122.0  # a loose wire: possible for a thermometer, not for the hour
    return out.drop(index=[130, 131, 132, 520]).reset_index(drop=True)  # rows that never arrived


def write_parquet(table: pd.DataFrame, path: Path) -> None:
    """Write a weather table small: float32, dictionary and zstd, times as whole seconds in UTC."""
    fields = [pa.field("time", pa.timestamp("s", tz="UTC"))]
    arrays = [
        pa.array(
            table["time"].dt.tz_localize("UTC").astype("datetime64[s, UTC]"), type=fields[0].type
        )
    ]
    for name in DECIMALS:
        fields.append(pa.field(name, pa.float32()))
        arrays.append(pa.array(table[name].to_numpy(dtype=np.float32)))
    made = {
        "origin": "invented by make_tamarind_coast.py",
        "stamp": "start of the hour, UTC",
        "wind_height_m": "2",
    }
    pq.write_table(
        pa.Table.from_arrays(arrays, schema=pa.schema(fields, metadata=made)),
        path,
        compression="zstd",
        compression_level=19,
        use_dictionary=list(DECIMALS),
        column_encoding={"time": "DELTA_BINARY_PACKED"},
    )


def write_csv(table: pd.DataFrame, path: Path) -> None:
    """Write a weather table as CSV with the time in ISO 8601 UTC."""
    out = table.copy()
    if "time" in out:
        out["time"] = out["time"].dt.strftime("%Y-%m-%dT%H:%MZ")
    for name, digits in DECIMALS.items():
        if name in out:
            out[name] = out[name].map(lambda v, d=digits: f"{v:.{d}f}")
    out.to_csv(path, index=False, lineterminator="\n")


def main() -> None:
    """Write all invented files."""
    parser = argparse.ArgumentParser(description="Make the invented weather files again.")
    parser.add_argument("--out", type=Path, default=HERE, help="folder to write into")
    out = parser.parse_args().out
    out.mkdir(parents=True, exist_ok=True)
    stats = statistics()
    season = season_so_far(stats)
    write_parquet(history(stats), out / "tamarind_coast.parquet")
    write_csv(season, out / "low_quay_observed.csv")
    write_csv(outlook(stats), out / "low_quay_outlook.csv")
    write_csv(grower_logger(stats, season), out / "low_quay_logger.csv")
    for path in sorted(out.iterdir()):
        print(f"{path.stat().st_size:>9,} {path}")


if __name__ == "__main__":
    main()
