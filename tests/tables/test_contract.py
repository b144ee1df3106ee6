"""A table that breaks its contract is told row, column, value and range."""

from __future__ import annotations

import datetime as dt
import math

import numpy as np
import pandas as pd
import pytest

from phenocast.errors import InputError
from phenocast.tables import (
    CANOPY_COVER,
    CONTRACTS,
    CROWN_TEMPERATURES,
    WEATHER_RECORDS,
    WEEK_PROBABILITIES,
    Column,
    TableContract,
)


def weather(**changed: object) -> pd.DataFrame:
    columns = {
        "time_utc": pd.date_range("2026-10-01", periods=3, freq="h"),
        "row": [4, 5, 6],
        "air_c": [20.0, np.nan, 22.0],
        "wind_m_s": [1.0, 2.0, 3.0],
    }
    return pd.DataFrame(columns | changed)


def test_a_sound_table_has_no_faults() -> None:
    assert WEATHER_RECORDS.check(weather()) == []
    assert WEATHER_RECORDS.require(weather()) is not None


def test_an_impossible_value_is_told_with_the_line_of_the_file() -> None:
    (fault,) = WEATHER_RECORDS.check(weather(air_c=[20.0, 99.0, 22.0]))
    assert fault.where == "weather records, row 5, column air_c"
    assert fault.value == 99.0
    assert fault.allowed == "-60 to 60 degC"


def test_many_bad_rows_are_one_fault() -> None:
    frame = pd.DataFrame({"date": [dt.date(2026, 10, 1)] * 9, "cover": [2.0] * 9})
    (fault,) = CANOPY_COVER.check(frame)
    assert fault.where == "canopy cover, rows 1, 2, 3, 4, 5, ..., column cover"
    assert fault.what == "out of range in 9 rows"


def test_infinite_values_are_out_of_range() -> None:
    assert WEATHER_RECORDS.check(weather(wind_m_s=[1.0, math.inf, 2.0]))


def test_missing_and_unknown_columns_are_told_with_the_nearest() -> None:
    frame = weather(air_deg_c=[1.0, 2.0, 3.0]).drop(columns="time_utc")
    faults = {fault.where: fault for fault in WEATHER_RECORDS.check(frame)}
    assert "missing" in faults["weather records, column time_utc"].what
    assert faults["weather records, column air_deg_c"].do == "did you mean 'air_c'?"


@pytest.mark.parametrize(
    ("column", "values"),
    [
        ("air_c", ["20", "21", "22"]),
        ("air_c", [True, False, True]),
        ("time_utc", ["2026-10-01", "2026-10-02", "2026-10-03"]),
        ("time_utc", pd.date_range("2026-10-01", periods=3, freq="h", tz="UTC")),
    ],
)
def test_the_wrong_kind_of_value_is_told(column: str, values: object) -> None:
    (fault,) = WEATHER_RECORDS.check(weather(**{column: values}))
    assert "wrong kind" in fault.what


def test_a_gap_where_none_is_allowed_is_told() -> None:
    frame = pd.DataFrame({"date": [dt.date(2026, 10, 1)] * 2, "cover": [0.2, np.nan]})
    (fault,) = CANOPY_COVER.check(frame)
    assert fault.what == "a value is missing in 1 row"


def test_a_row_must_be_whole_and_a_week_an_iso_week() -> None:
    assert "whole" in WEATHER_RECORDS.check(weather(row=[1.5, 2.0, 3.0]))[0].what
    frame = pd.DataFrame({"block": ["a", "b"], "week": ["2027-W03", "2027-W54"]})
    frame["probability"] = [0.4, 0.6]
    (fault,) = WEEK_PROBABILITIES.check(frame)
    assert fault.value == "2027-W54"


def test_require_raises_with_every_fault() -> None:
    with pytest.raises(InputError) as told:
        WEATHER_RECORDS.require(weather(air_c=[99.0, 99.0, 0.0], wind_m_s=[-1.0, 0.0, 0.0]))
    assert len(told.value.faults) == 2


def test_a_contract_refuses_a_range_upside_down_and_an_unknown_unit() -> None:
    with pytest.raises(InputError, match="upside down"):
        Column("air_c", "degC", 60.0, -60.0, "air")
    with pytest.raises(InputError, match="unknown unit"):
        Column("air_c", "degX", -60.0, 60.0, "air")
    with pytest.raises(InputError, match="did you mean 'air_c'"):
        CROWN_TEMPERATURES.column("air_C")


def test_the_crown_table_has_the_columns_that_readers_rely_on() -> None:
    assert CROWN_TEMPERATURES.names == (
        "block", "time_utc", "air_c", "film_surface_c", "air_above_film_c", "crown_c",
        "soil_5cm_c", "soil_10cm_c", "canopy_cover", "filled",
    )  # fmt: skip


@pytest.mark.parametrize("contract", CONTRACTS.values(), ids=CONTRACTS.keys())
def test_every_column_of_every_contract_has_a_meaning(contract: TableContract) -> None:
    assert len(set(contract.names)) == len(contract.names)
    assert all(column.meaning for column in contract.columns)
