"""Tables and documents as they are written: contract, units, and the same bytes each time."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from phenocast.errors import InputError
from phenocast.io import (
    check_suffix,
    read_table,
    to_json,
    write_table,
)
from phenocast.tables import CANOPY_COVER, CROWN_TEMPERATURES, HARVEST_RECORDS
from tests.io.test_output import crown_table


@pytest.mark.parametrize("suffix", [".csv", ".parquet", ".CSV"])
def test_table_round_trip_under_its_contract(tmp_path, suffix):
    frame = crown_table()
    place = write_table(frame, tmp_path / f"crown{suffix}", contract=CROWN_TEMPERATURES)
    back = read_table(place, CROWN_TEMPERATURES)
    assert back["time_utc"].tolist() == frame["time_utc"].tolist()
    assert back["block"].tolist() == frame["block"].tolist()
    for name in ("air_c", "crown_c", "canopy_cover"):
        np.testing.assert_allclose(back[name], frame[name], rtol=1e-6)


@pytest.mark.parametrize("suffix", [".csv", ".parquet"])
def test_the_same_table_gives_the_same_bytes(tmp_path, suffix):
    contents = [
        write_table(crown_table(), tmp_path / f"{n}{suffix}", contract=CROWN_TEMPERATURES)
        .read_bytes()
        for n in "ab"
    ]  # fmt: skip
    assert contents[0] == contents[1]


def test_parquet_carries_units_and_utc(tmp_path):
    import pyarrow.parquet as pq

    place = write_table(crown_table(), tmp_path / "a.parquet", contract=CROWN_TEMPERATURES)
    schema = pq.read_schema(place)
    assert schema.field("crown_c").metadata == {b"unit": b"degC"}
    assert schema.field("time_utc").type.tz == "UTC"


def test_other_endings_are_refused_before_any_work(tmp_path):
    for name in ("crown.xlsx", "crown"):
        with pytest.raises(InputError, match=r"\.csv, \.parquet"):
            check_suffix(tmp_path / name)


def test_table_that_breaks_its_contract_is_not_written(tmp_path):
    frame = crown_table().assign(crown_c=150.0)
    with pytest.raises(InputError, match="crown_c"):
        write_table(frame, tmp_path / "a.csv", contract=CROWN_TEMPERATURES)
    assert list(tmp_path.iterdir()) == []


def test_records_in_other_units_and_their_faults(tmp_path):
    place = tmp_path / "records.csv"
    place.write_text(
        "# comment\nblock;date;marketable_g_per_plant [qx plant-1];fruits_per_plant\n"
        "north;2026-12-14;1,5;2\n"
    )
    with pytest.raises(InputError, match="unknown unit"):
        read_table(place, HARVEST_RECORDS)
    place.write_text(place.read_text().replace("qx plant-1", "lb plant-1").replace("1,5", "0,01"))
    frame = read_table(place, HARVEST_RECORDS)
    assert frame["marketable_g_per_plant"].iloc[0] == pytest.approx(4.5359237)
    assert frame["row"].iloc[0] == 3
    place.write_text("block,date,marketable_g_per_plant\nnorth,2026-12-14,4\n,2026-12-15,-3\n")
    with pytest.raises(InputError) as caught:
        read_table(place, HARVEST_RECORDS)
    assert "records.csv, row 3, column block: a value is missing" in str(caught.value)
    assert "row 3, column marketable_g_per_plant: out of range" in str(caught.value)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("date,covr\n2026-10-05,0.1\n", ["a column is missing", "cover", "did you mean 'cover'"]),
        ("date,cover\n05/10/2026,0.1\n", ["day first or month first"]),
        ("date,cover\n2026-10-05,much\n", ["row 2", "not a number"]),
        ("date,cover\n2026-10-05,40\n", ["row 2", "out of range", "0 to 1"]),
    ],
)
def test_bad_tables_are_refused_plainly(tmp_path, text, words):
    place = tmp_path / "cover.csv"
    place.write_text(text)
    with pytest.raises(InputError) as caught:
        read_table(place, CANOPY_COVER)
    for word in words:
        assert word in str(caught.value)


def test_json_is_the_same_for_the_same_values():
    one = to_json({"b": np.float32(0.1), "a": [np.int64(3), float("nan")], "d": pd.Timestamp(0)})
    two = to_json({"d": pd.Timestamp(0), "a": [3, None], "b": 0.10000000149011612})
    assert one == two
    assert one.endswith("}\n")
    assert to_json({"x": -0.0}) == to_json({"x": 0.0})
    with pytest.raises(TypeError):
        to_json({"x": object()})
