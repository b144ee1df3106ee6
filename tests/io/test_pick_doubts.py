"""Slips in records of picks are told before anything rests on them."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from phenocast.errors import CAUTION, InputError
from phenocast.io import read_harvest_records, read_season, season_labels
from phenocast.io.pick_doubts import pick_doubts
from phenocast.parameters.library import shipped

RECORDS = shipped("calibration", "records")
FILES = sorted(RECORDS.glob("low_quay_2*.toml"))


@pytest.fixture(scope="module")
def seasons():
    return dict(zip(season_labels(FILES), [read_season(one) for one in FILES], strict=True))


@pytest.fixture(scope="module")
def lines():
    text = (RECORDS / "low_quay_records.csv").read_text(encoding="utf-8")
    return [line for line in text.splitlines() if not line.startswith("#")]


def read(tmp_path, lines, seasons):
    place = tmp_path / "records.csv"
    place.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return read_harvest_records(place, seasons)


def times(lines, row, factor):
    """Lines with the weight of one row (line of the file, from 1) so many times as large."""
    cells = lines[row - 1].split(",")
    cells[3] = f"{float(cells[3]) * factor:g}"
    return [*lines[: row - 1], ",".join(cells), *lines[row:]]


def test_the_shipped_records_are_not_doubted(tmp_path, lines, seasons):
    assert read(tmp_path, lines, seasons).notes == ()


# A pick in the full of the season of a block, and one in its first third.
@pytest.mark.parametrize("row", [21, 12])
def test_a_slipped_decimal_point_is_told_with_row_block_and_day(tmp_path, lines, seasons, row):
    _, block, day, weight, *_ = lines[row - 1].split(",")
    (told,) = read(tmp_path, times(lines, row, 10.0), seasons).notes
    assert told.startswith(f"{CAUTION}records.csv: 1 pick is far larger")
    assert f"row {row} (low_quay_2021: {block}, {day})" in told
    grams = 10.0 * float(weight) * 1000.0 / 20_000.0  # 0.4 ha with 50 000 plants a hectare
    assert f"with {grams:.4g} g a plant" in told
    assert "as a slipped decimal point would be" in told


def test_pounds_among_kilograms_are_told(tmp_path, lines, seasons):
    (told,) = read(tmp_path, times(lines, 16, 1.0 / 0.45359237), seasons).notes
    assert "row 16 " in told
    assert "as lb for kg would be" in told
    assert "2.2 times too large" in told


# A slipped point is told wherever it slips; pounds hide in the scatter of half of the picks.
@pytest.mark.parametrize(("factor", "least"), [(10.0, 12), (1.0 / 0.45359237, 5)])
def test_so_many_slips_of_the_full_season_are_told(lines, seasons, tmp_path, factor, least):
    rng = np.random.default_rng(0)
    table = read(tmp_path, lines, seasons).table
    table = table[table["season"] == "low_quay_2022"].reset_index(drop=True)
    grams = table["marketable_g_per_plant"]
    usual = grams.groupby(table["block"]).transform("median")
    told = 0
    for place in rng.choice(np.flatnonzero(grams > usual), 12, replace=False):
        changed = table.copy()
        changed.loc[place, "marketable_g_per_plant"] *= factor
        found = pick_doubts(changed, "r.csv")
        told += any(f"row {table['row'][place]} " in one for one in found)
        assert not any("2 picks" in one for one in found)
    assert told >= least


def test_a_round_without_a_row_is_told_with_its_days(tmp_path, lines, seasons):
    days = [line.split(",")[2] for line in lines]
    (told,) = read(tmp_path, [*lines[:20], *lines[22:]], seasons).notes
    assert f"{days[19]} to {days[22]} (21 days; usual 7)" in told
    assert "add it with 0" in told


def test_rows_pasted_twice_are_refused_by_the_reader_itself(tmp_path, lines, seasons):
    with pytest.raises(InputError) as caught:
        read(tmp_path, [*lines, *lines[1:]], seasons)
    assert "a plot is recorded twice on one day" in str(caught.value)
    assert "rows 2, 1346" in str(caught.value) or "rows 146, 1490" in str(caught.value)


def test_picks_stated_as_right_stand_among_the_notes(tmp_path, lines):
    for one in FILES:
        text = one.read_text(encoding="utf-8").replace("../../demo_weather/", "")
        (tmp_path / one.name).write_text('checked = "picks"\n' + text, encoding="utf-8")
    stated = {one.stem: read_season(tmp_path / one.name) for one in FILES}
    (told,) = read(tmp_path, times(lines, 21, 10.0), stated).notes
    assert told.startswith("stated as right (picks): records.csv: 1 pick")


def test_dates_alone_and_a_single_pick_are_no_trouble():
    table = pd.DataFrame({
        "season": "a", "plot": None, "block": ["x", "x", "y"], "row": [2, 3, 4],
        "date": pd.to_datetime(["2026-11-01", "2026-11-08", "2026-11-08"]),
        "marketable_g_per_plant": np.nan, "fruit_g_per_plant": np.nan,
    })  # fmt: skip
    assert pick_doubts(table, "a.csv") == []
    assert pick_doubts(table.assign(fruit_g_per_plant=[3.0, np.nan, 0.0]), "a.csv") == []


# Weights of two benches of strawberry in a greenhouse [g a bench]: columns 0N and 100N of
# data_freshMatter_2022.csv, Digital Agriculture Group (2024), MIT licence. The last pick cleared
# the benches eleven days after the one before.
DAYS = [
    "07-29",
    "08-02",
    "08-05",
    "08-09",
    "08-12",
    "08-16",
    "08-22",
    "08-30",
    "09-06",
    "09-09",
    "09-13",
    "09-16",
    "09-20",
    "09-23",
    "09-27",
    "09-30",
    "10-04",
    "10-07",
    "10-11",
    "10-14",
    "10-18",
    "10-21",
    "11-01",
]
GONE = np.nan
BENCHES = {
    "0N": [17.33, 5.15, 30.3, 18.12, 27.67, 28.48, 8.46, 21.26, 4.93, 2.56, 4.86, GONE, GONE, 2.22,
           GONE, 4.27, GONE, GONE, 9.98, 2.65, 4.14, GONE, 47.44],
    "100N": [63.53, 91.63, 31.37, 21.68, 41.07, 110.72, 71.77, 124.76, 137.62, 59.86, 166.01,
             146.27, 181.35, 69.02, 88.49, 90.18, 106.682, 28.34, 20.68, 41.97, 42.29, 43.85,
             38.64],
}  # fmt: skip


@pytest.mark.parametrize("bench", BENCHES)
def test_real_picks_of_a_greenhouse_are_not_called_too_large(bench):
    table = pd.DataFrame({
        "season": "2022", "plot": None, "block": bench, "row": range(2, 2 + len(DAYS)),
        "date": pd.to_datetime([f"2022-{day}" for day in DAYS]),
        "marketable_g_per_plant": BENCHES[bench], "fruit_g_per_plant": np.nan,
    })  # fmt: skip
    told = pick_doubts(table, "a.csv")
    assert not [one for one in told if "larger" in one]
    assert sum("2022-10-21 to 2022-11-01 (11 days; usual 4)" in one for one in told) == 1
