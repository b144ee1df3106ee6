import numpy as np
import pytest

from phenocast.errors import InputError
from phenocast.weather import checked
from tests.weather.records_for_tests import made, smooth_air


def changed(hours=240, **at):
    air = smooth_air(hours)
    for place, value in at.items():
        air[int(place[1:])] = value
    return made(hours, air_c=air)


@pytest.mark.parametrize(
    ("column", "value"),
    [
        ("air_c", 99.0),
        ("air_c", -999.0),
        ("relative_humidity_pct", 130.0),
        ("wind_m_s", -1.0),
        ("wind_m_s", 80.0),
        ("solar_w_m2", 1700.0),
        ("solar_w_m2", -50.0),
        ("rain_mm", -0.2),
        ("pressure_kpa", 1013.0),
        ("soil_5cm_c", 90.0),
        ("dew_point_c", 40.0),
    ],
)
def test_a_value_outside_the_plausible_range_is_taken_out_with_its_row(column, value):
    usual = {
        "air_c": smooth_air(48),
        "relative_humidity_pct": 60.0,
        "wind_m_s": 2.0,
        "solar_w_m2": 100.0,
        "rain_mm": 0.0,
        "pressure_kpa": 101.0,
        "soil_5cm_c": 15.0,
        "dew_point_c": 5.0,
    }[column]
    values = np.array(np.broadcast_to(usual, (48,)), dtype=float)
    values[17] = value
    result = checked(made(48, **{column: values}))
    assert result.removed == {column: 1}
    assert np.isnan(result.table[column].iloc[17])
    assert result.faults[0].where == f"station.csv, row 19, {column}"
    assert result.faults[0].value == value


def test_a_sound_record_has_no_findings():
    result = checked(made(8760))
    assert result.faults == ()
    assert result.removed == result.suspect == {}


def test_a_lone_spike_is_taken_out_and_its_neighbours_are_not_blamed():
    result = checked(changed(i100=38.0))
    assert result.removed == {"air_c": 1}
    assert result.suspect == {}
    assert result.faults[0].what == "a lone spike"


def test_a_front_is_told_once_and_stays():
    air = smooth_air(240)
    air[100:] -= 12.0
    result = checked(made(240, air_c=air))
    assert result.removed == {}
    assert result.suspect["air_c"] <= 5
    assert "row 102" in result.faults[0].where
    assert np.array_equal(result.table["air_c"], air)


@pytest.mark.parametrize(("hours", "step"), [(1, 4.0), (2, 7.0), (3, 9.0), (6, 15.0), (12, 25.0)])
def test_steps_of_wmo_305_at_and_above_the_limit(hours, step):
    def ramp(size):
        air = np.zeros(60)
        air[20 : 20 + hours] = np.linspace(0.0, size, hours + 1)[1:]
        air[20 + hours :] = size
        return checked(made(60, air_c=air + np.arange(60) * 1e-6)).suspect

    assert "air_c" not in {k for k, v in ramp(step - 0.01).items() if v and hours == 1}
    over = [f for f in _faults_of_ramp(hours, step + 0.05) if f"over {hours} h" in f.what]
    under = [f for f in _faults_of_ramp(hours, step - 0.05) if f"over {hours} h" in f.what]
    assert len(over) == 1
    assert under == []


def _faults_of_ramp(hours, size):
    air = np.zeros(60)
    air[20 : 20 + hours] = np.linspace(0.0, size, hours + 1)[1:]
    air[20 + hours :] = size
    return checked(made(60, air_c=air + np.arange(60) * 1e-6)).faults


def test_a_step_over_rows_that_are_missing_is_not_a_jump():
    air = np.append(
        np.full(24, 10.0) + np.arange(24) * 0.01, np.full(24, 16.0) + np.arange(24) * 0.01
    )
    records = made(60, air_c=np.append(air, np.arange(12) * 0.01 + 16.3))
    kept = records.table.drop(index=range(22, 26)).reset_index(drop=True)
    result = checked(type(records)(kept, "hourly", "station.csv"))
    assert not [f for f in result.faults if "over 1 h" in f.what]


def test_a_sensor_that_stands_still_for_half_a_day_is_told_and_for_more_than_a_day_taken_out():
    air = smooth_air(240)
    air[50:65] = 12.0
    assert checked(made(240, air_c=air)).suspect["air_c"] >= 15
    air[50:80] = 12.0
    result = checked(made(240, air_c=air))
    assert result.removed["air_c"] == 30
    assert result.table["air_c"].iloc[50:80].isna().all()


def test_internal_consistency():
    turned = checked(made(10, step="daily", air_min_c=[5.0] * 9 + [25.0], air_max_c=20.0))
    assert turned.removed == {"air_min_c": 1}
    assert turned.faults[0].where == "station.csv, row 11, air_min_c"
    damp = checked(made(48, dew_point_c=smooth_air(48) + np.where(np.arange(48) == 7, 2.0, -1.0)))
    assert damp.removed == {"dew_point_c": 1}
    air = smooth_air(48)
    beyond = checked(
        made(
            48,
            air_c=air,
            air_max_c=air + 1.0,
            air_min_c=air - np.where(np.arange(48) == 9, -0.5, 1.0),
        )
    )
    assert beyond.suspect == {"air_c": 1}
    assert "row 11" in beyond.faults[0].where


def test_the_list_is_short_and_the_count_is_whole():
    air = smooth_air(240)
    air[::4] = 99.0
    result = checked(made(240, air_c=air))
    assert result.removed["air_c"] == 60
    assert len(result.faults) == 20


@pytest.mark.parametrize(
    ("order", "told"), [([0, 1, 1, 2], "comes twice"), ([0, 2, 1, 3], "run back")]
)
def test_stamps_that_repeat_or_run_backwards_are_refused_with_rows(order, told):
    records = made(10)
    table = records.table.iloc[order].reset_index(drop=True).assign(row=[2, 3, 4, 5])
    with pytest.raises(InputError, match=told) as error:
        checked(type(records)(table, "hourly", "station.csv"))
    assert "rows 3 and 4" in str(error.value)
