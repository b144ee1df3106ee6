import numpy as np
import pytest

from phenocast.errors import InputError, NoAnswerError
from phenocast.season.site import Site
from phenocast.weather import (
    AIR_FROM_DAILY,
    AIR_FROM_OTHER,
    AIR_INTERPOLATED,
    HUMIDITY_ESTIMATED,
    RAIN_ESTIMATED,
    SOLAR_ESTIMATED,
    SPREAD_FROM_DAILY,
    WIND_ESTIMATED,
    clear_sky_w_m2,
    to_hourly,
)
from phenocast.weather.gap_filling import sun_shift_h
from phenocast.weather.humidity import saturation_vapour_pressure
from tests.weather.records_for_tests import SITE, half_clear, made, smooth_air


def full(hours: int, **changes):
    records = made(hours)
    columns = {
        "air_c": smooth_air(hours),
        "relative_humidity_pct": 70.0,
        "wind_m_s": 3.0,
        "solar_w_m2": half_clear(records),
        "rain_mm": 0.1,
    }
    return made(hours, **(columns | changes))


def with_gap(values, first, length):
    out = np.array(values, dtype=float)
    out[first : first + length] = np.nan
    return out


def test_a_complete_record_is_not_changed_and_carries_no_flag():
    records = full(240)
    weather = to_hourly(records, SITE)
    assert not weather.filled.any()
    assert weather.filled_counts() == {}
    for name in ("air_c", "wind_m_s", "solar_w_m2", "rain_mm"):
        assert np.array_equal(getattr(weather, name), records.table[name].to_numpy())
    assert weather.vapour_pressure_kpa == pytest.approx(
        0.7 * saturation_vapour_pressure(records.table["air_c"].to_numpy())
    )
    assert np.isnan(weather.longwave_down_w_m2).all()


@pytest.mark.parametrize("length", [1, 2, 3])
def test_a_short_gap_of_air_is_a_straight_line_flagged_and_counted(length):
    air = with_gap(smooth_air(240), 100, length)
    weather = to_hourly(full(240, air_c=air), SITE)
    line = np.linspace(air[99], air[100 + length], length + 2)[1:-1]
    assert weather.air_c[100 : 100 + length] == pytest.approx(line)
    assert np.flatnonzero(weather.filled & AIR_INTERPOLATED).tolist() == list(
        range(100, 100 + length)
    )
    assert weather.counts["air interpolated"] == length == weather.counts["air missing"]


def test_a_longer_gap_comes_from_like_hours_and_nothing_measured_changes():
    air = with_gap(smooth_air(480), 200, 9)
    weather = to_hourly(full(480, air_c=air), SITE)
    gap = slice(200, 209)
    assert np.abs(weather.air_c[gap] - smooth_air(480)[gap]).max() < 0.5
    assert (weather.filled[gap] == AIR_FROM_OTHER).all()
    assert weather.counts["air from other days or years"] == 9
    outside = np.ones(480, dtype=bool)
    outside[gap] = False
    assert np.array_equal(weather.air_c[outside], air[outside])
    assert not weather.filled[outside].any()


def test_a_gap_of_weeks_comes_from_the_same_days_of_other_years():
    hours = 3 * 8766
    air = with_gap(smooth_air(hours), 12000, 24 * 21)
    weather = to_hourly(made(hours, air_c=air), SITE)
    gap = slice(12000, 12000 + 24 * 21)
    assert np.abs(weather.air_c[gap] - smooth_air(hours)[gap]).max() < 1.5
    assert (weather.filled[gap] & AIR_FROM_OTHER).all()


def test_a_longer_gap_takes_the_daily_extremes_of_the_file_where_it_has_them():
    air = smooth_air(480)
    days = air.reshape(-1, 24)
    high, low = np.repeat(days.max(axis=1) + 3.0, 24), np.repeat(days.min(axis=1) - 2.0, 24)
    weather = to_hourly(
        full(480, air_c=with_gap(air, 240, 24), air_max_c=high, air_min_c=low), SITE
    )
    day = weather.air_c[240:264]
    assert (weather.filled[240:264] & AIR_FROM_DAILY).all()
    assert weather.counts["air from daily"] == 24
    # the extremes of the day, less what falls between two middles of hours
    assert high[240] - 0.2 < day.max() <= high[240]
    # the default curve keeps a ninth of the fall from sunset at dawn, as published
    assert low[240] <= day.min() < low[240] + 1.6


def test_more_than_the_stated_share_missing_is_refused_with_counts():
    records = full(1000, air_c=with_gap(smooth_air(1000), 300, 150))
    with pytest.raises(NoAnswerError, match=r"15% of 1000 hours \(150 h\)") as told:
        to_hourly(records, SITE)
    assert told.value.exit_code == 4
    assert len(to_hourly(records, SITE, max_missing_share=0.2)) == 1000


def test_rows_that_are_not_there_count_as_missing():
    records = full(240)
    short = records.table.drop(index=range(50, 53)).reset_index(drop=True)
    weather = to_hourly(type(records)(short, "hourly", "station.csv", wind_height_m=2.0), SITE)
    assert len(weather) == 240
    assert weather.counts["air missing"] == 3
    assert (weather.filled[50:53] & AIR_INTERPOLATED).all()


def test_no_air_at_all_gives_no_answer():
    with pytest.raises(NoAnswerError, match="no air temperature"):
        to_hourly(full(240, air_c=np.nan), SITE)


def test_what_a_file_lacks_is_estimated_and_flagged():
    weather = to_hourly(made(24 * 30), SITE)
    assert (weather.wind_m_s == 2.0).all()
    assert (weather.filled & WIND_ESTIMATED).all()
    assert (weather.filled & HUMIDITY_ESTIMATED).all()
    assert (weather.filled & RAIN_ESTIMATED).all()
    by_day = clear_sky_w_m2(weather.time_utc, SITE) > 0.0  # the night's zero is not an estimate
    assert np.array_equal(weather.filled & SOLAR_ESTIMATED > 0, by_day)
    assert weather.counts["solar estimated"] == by_day.sum()
    days = weather.air_c.reshape(-1, 24)
    at_minimum = saturation_vapour_pressure(days.min(axis=1))
    assert weather.vapour_pressure_kpa.reshape(-1, 24).mean(axis=1) == pytest.approx(at_minimum)
    clear = clear_sky_w_m2(weather.time_utc, SITE)
    assert (weather.solar_w_m2 <= clear + 1e-9).all()
    assert (weather.solar_w_m2[clear == 0.0] == 0.0).all()
    # a range of 10 degC lets through about three quarters of a clear sky on an open coast
    assert 0.6 < weather.solar_w_m2.sum() / clear.sum() < 0.95


@pytest.mark.parametrize(
    ("column", "flag"),
    [
        ("relative_humidity_pct", HUMIDITY_ESTIMATED),
        ("wind_m_s", WIND_ESTIMATED),
        ("solar_w_m2", SOLAR_ESTIMATED),
    ],
)
@pytest.mark.parametrize("length", [2, 30])
def test_gaps_of_the_other_columns_are_flagged_too(column, flag, length):
    records = full(480)
    values = np.broadcast_to(records.table[column].to_numpy(), (480,))
    whole = to_hourly(records, SITE)
    weather = to_hourly(full(480, **{column: with_gap(values, 252, length)}), SITE)
    flagged = np.flatnonzero(weather.filled & flag)
    assert set(flagged) <= set(range(252, 252 + length))
    # at night the sun is known to give nothing
    assert len(flagged) == length or (column == "solar_w_m2" and len(flagged) >= length / 3)
    name = {"relative_humidity_pct": "vapour_pressure_kpa"}.get(column, column)
    outside = np.ones(480, dtype=bool)
    outside[252 : 252 + length] = False
    assert np.array_equal(getattr(weather, name)[outside], getattr(whole, name)[outside])


def test_dew_point_goes_before_relative_humidity_and_air_is_never_over_saturated():
    weather = to_hourly(full(240, dew_point_c=smooth_air(240) - 4.0), SITE)
    assert weather.vapour_pressure_kpa == pytest.approx(
        saturation_vapour_pressure(smooth_air(240) - 4.0)
    )
    foggy = to_hourly(full(240, relative_humidity_pct=104.0), SITE)
    assert foggy.vapour_pressure_kpa == pytest.approx(saturation_vapour_pressure(foggy.air_c))


def test_wind_is_brought_to_two_metres_and_an_unstated_height_is_told():
    records = full(240)
    high = type(records)(records.table, "hourly", "station.csv", wind_height_m=10.0)
    assert to_hourly(high, SITE).wind_m_s == pytest.approx(3.0 * 0.748, abs=0.002)
    unknown = type(records)(records.table, "hourly", "station.csv")
    assert any("height of the wind sensor" in line for line in to_hourly(unknown, SITE).warnings)


def test_ten_minute_rows_become_hours():
    rows = 6 * 240
    records = made(rows, step="subhourly", air_c=np.arange(rows) * 0.01, rain_mm=0.1, wind_m_s=3.0)
    weather = to_hourly(records, SITE)
    assert len(weather) == 240
    assert weather.air_c[:2] == pytest.approx([0.025, 0.085])
    assert weather.rain_mm == pytest.approx(0.6)


def test_an_hour_with_one_reading_of_six_is_missing():
    air = np.arange(6 * 240) * 0.01
    air[601:606] = np.nan
    weather = to_hourly(made(6 * 240, step="subhourly", air_c=air), SITE)
    assert weather.counts["air missing"] == 1
    assert weather.filled[100] & AIR_INTERPOLATED


def test_a_zone_of_half_an_hour_shares_its_hours():
    records = made(240, start="2024-01-01 00:30", air_c=np.arange(240.0) / 10.0)
    weather = to_hourly(records, Site("inland", 28.0, 77.0, 200.0, "Asia/Kolkata"))
    assert weather.air_c[1:4] == pytest.approx([0.05, 0.15, 0.25])
    assert any("30 minutes past" in line for line in weather.warnings)


def test_a_sun_of_another_zone_is_refused_and_one_of_another_stamp_is_told():
    records = full(24 * 30)
    solar = records.table["solar_w_m2"].to_numpy()
    with pytest.raises(InputError, match=r"sun is 5\.0 h late") as told:
        to_hourly(full(24 * 30, solar_w_m2=np.roll(solar, 5)), SITE)
    assert told.value.exit_code == 3
    shifted = to_hourly(full(24 * 30, solar_w_m2=np.roll(solar, 1)), SITE)
    assert any("start or the end of the hour" in line for line in shifted.warnings)
    assert not any("the sun of the file" in line for line in to_hourly(records, SITE).warnings)


def test_the_lag_of_the_sun_survives_noise_and_cloudy_afternoons():
    records = made(24 * 60)
    clear = 2.0 * half_clear(records)
    hour = np.arange(len(clear)) % 24
    cloudy = clear * np.where(hour > 14, 0.5, 0.9)
    lag = sun_shift_h(cloudy, clear)
    assert lag is not None
    assert -0.75 < lag < 0.0


@pytest.mark.parametrize("zone", ["Atlantic/Canary", "Asia/Kolkata", "Australia/Sydney"])
def test_daily_extremes_become_hours_of_local_days(zone):
    place = {
        "Atlantic/Canary": (29.3, -15.6, 0),
        "Asia/Kolkata": (28.0, 77.0, -330),
        "Australia/Sydney": (-34.0, 151.0, -600),
    }[zone]
    site = Site(zone, place[0], place[1], 30.0, zone)
    low, high = 10.0 + np.arange(20) % 3, 20.0 + np.arange(20) % 4
    records = made(
        20,
        step="daily",
        air_min_c=low,
        air_max_c=high,
        solar_w_m2=200.0,
        rain_mm=4.8,
        relative_humidity_pct=70.0,
        wind_m_s=2.5,
    )
    table = records.table.assign(time_utc=records.table["time_utc"] + np.timedelta64(place[2], "m"))
    weather = to_hourly(type(records)(table, "daily", "days.csv", wind_height_m=2.0), site)
    days = weather.air_c.reshape(20, 24)
    assert len(weather) == 480
    assert np.abs(days.max(axis=1) - high).max() < 0.3
    # the warmest hour stands in the local afternoon
    local = (
        (weather.time_utc[np.argmax(days[5]) + 120].astype("datetime64[m]").astype(int) - place[2])
        % 1440
        / 60
    )
    assert 12.0 <= local <= 16.0
    assert weather.solar_w_m2.reshape(20, 24).mean(axis=1) == pytest.approx(200.0)
    assert weather.rain_mm.reshape(20, 24).sum(axis=1) == pytest.approx(4.8)
    assert (weather.filled == (AIR_FROM_DAILY | SPREAD_FROM_DAILY)).all()


def test_daily_humidity_goes_with_the_mean_saturation_of_the_day():
    records = made(10, step="daily", air_min_c=18.0, air_max_c=25.0, relative_humidity_pct=68.0)
    weather = to_hourly(records, SITE)
    # FAO-56 example 5 by eq. 19; the early morning is saturated below that
    assert weather.vapour_pressure_kpa.max() == pytest.approx(1.78, abs=0.005)


def test_a_missing_day_is_filled_flagged_and_counted():
    low, high = np.full(30, 10.0), np.full(30, 20.0)
    low[12] = np.nan
    weather = to_hourly(made(30, step="daily", air_min_c=low, air_max_c=high), SITE)
    assert weather.counts["days without extremes"] == 1
    gap = slice(12 * 24, 13 * 24)
    assert (weather.filled[gap] & (AIR_FROM_OTHER | AIR_INTERPOLATED)).all()
    assert not (weather.filled[gap] & AIR_FROM_DAILY).any()
    assert 9.0 < weather.air_c[gap].min() < weather.air_c[gap].max() < 21.0


def test_daily_rows_without_extremes_are_refused():
    with pytest.raises(NoAnswerError, match="maximum and the minimum"):
        to_hourly(made(30, step="daily", air_c=np.full(30, 12.0)), SITE)


def test_the_curve_can_be_chosen_by_name():
    records = made(10, step="daily", air_min_c=10.0, air_max_c=30.0)
    one, other = (to_hourly(records, SITE, curve=c).air_c for c in ("linvill", "cosine"))
    assert np.abs(one - other).max() > 1.0
    with pytest.raises(InputError, match="linvill"):
        to_hourly(records, SITE, curve="linvil")
