"""Records of the season that runs: what is used, and every row that is not, with its value."""

from __future__ import annotations

import re
from datetime import date

import numpy as np
import pandas as pd
import pytest

from phenocast.errors import InputError
from phenocast.io import read_season, read_season_records, template
from phenocast.season import SeasonRecords
from tests.io.test_harvest_records import SEASON

FARM = SEASON.format(year=2026)
SOUTH = FARM[FARM.index("[[block]]") :].replace("north", "south")


@pytest.fixture(scope="module")
def season(tmp_path_factory):
    place = tmp_path_factory.mktemp("farm") / "2026.toml"
    place.write_text(FARM + SOUTH)
    return read_season(place)


@pytest.fixture
def read(season, tmp_path):
    """Read lines of a table; ``field`` stands for the block in the north."""

    def reading(header: str, *lines: str, issued: date = date(2027, 4, 1)) -> SeasonRecords:
        place = tmp_path / "records.csv"
        text = "\n".join([header, *lines]) + "\n"
        place.write_text(text.replace("field", "north field"))
        return read_season_records(place, season, issued)

    return reading


def told(records: SeasonRecords) -> str:
    return "\n".join(records.warnings)


def north(records: SeasonRecords) -> pd.DataFrame:
    return records.blocks["north field"].set_index("day")


def test_the_template_is_read_without_a_doubt(season, tmp_path):
    place = tmp_path / "records.csv"
    place.write_text(template("records"))
    records = read_season_records(place, season, date(2027, 1, 31))
    assert not [text for text in records.warnings if "not used:" in text]
    visits = north(records)
    assert visits["plants_in_bloom"].tolist()[:2] == [3.0, 31.0]
    south = records.blocks["south field"]
    assert south["marketable_g"].tolist()[1:] == [2.1, pytest.approx(np.nan, nan_ok=True), 0.0]
    assert south["picked"].tolist() == [False, True, False, True]
    assert south["fruit_left"].tolist() == [False, False, True, False]
    assert south["lost_share"].tolist()[-1] == pytest.approx(0.12)
    assert south["day"].dtype == np.int64


def test_plots_are_averaged_and_their_plants_added(read):
    records = read(
        "block,date,plot,plants_seen,plants_in_bloom,open_flowers_per_plant,marketable_g_per_plant",
        "field,2026-12-20,b,20,5,2,8", "field,2026-12-20,a,40,10,1,4", "field,2026-12-13,a,40,1,,",
    )  # fmt: skip
    visits = north(records)
    assert visits.index.tolist() == [79, 86]
    assert visits.loc[86, ["plants_seen", "plants_in_bloom"]].tolist() == [60.0, 15.0]
    assert visits.loc[86, ["open_flowers", "marketable_g"]].tolist() == [1.5, 6.0]


def test_rows_of_one_visit_that_say_different_things_are_joined(read):
    header = "block,date,plants_seen,plants_in_bloom,marketable_g_per_plant,event"
    records = read(
        header, "field,2026-12-20,40,30,,first flower", "field,2026-12-20,,,5,first pick"
    )
    assert north(records).loc[86, ["plants_in_bloom", "marketable_g"]].tolist() == [30.0, 5.0]
    assert not records.warnings


def test_no_pick_and_no_flower_yet_are_zeros(read):
    records = read(
        "block,date,plants_seen,event", "field,2026-11-01,40,no first flower",
        "field,2026-11-20,,no first pick", "field,2026-12-01,,first pick",
    )  # fmt: skip
    visits = north(records)
    assert visits.loc[37, "plants_in_bloom"] == 0.0
    assert visits.loc[56, "marketable_g"] == 0.0
    assert visits["picked"].tolist() == [False, True, True]
    assert np.isnan(visits.loc[67, "marketable_g"])


def test_trays_and_weights_of_the_block_are_a_plant(read):
    records = read(
        "block,date,trays,marketable [kg]", "field,2026-12-20,100,", "field,2026-12-27,,40"
    )
    assert north(records)["marketable_g"].tolist() == pytest.approx([100 * 3.6287 * 1.02 / 5, 8.0])


def test_later_rows_and_other_seasons_are_counted_and_no_fault(read):
    records = read(
        "season,block,date,marketable_g_per_plant", "2026,field,2026-12-20,5",
        ",field,2027-01-03,6", "2025,field,2025-12-20,5", "s2024,field,2024-12-20,5",
        issued=date(2026, 12, 31),
    )  # fmt: skip
    assert north(records).index.tolist() == [86]
    assert "rows of other seasons: 2" in told(records)
    assert "rows after the day of issue (2026-12-31): 1" in told(records)
    assert "1 of 4 rows are used" in told(records)
    none_yet = read(
        "block,date,marketable_g_per_plant", "field,2027-01-03,6", issued=date(2026, 9, 1)
    )
    assert none_yet.blocks == {}


HEADER = (
    "block,date,plot,plants_seen,plants_in_bloom,open_flowers_per_plant,ripe_fruit_per_plant,"
    "marketable_g_per_plant,fruit_g_per_plant,not_picked,plants_lost_pct,lost_to,event"
)
SOUND = "field,2027-01-17,,40,40,1,,6,,,,,"


@pytest.mark.parametrize(
    ("lines", "words"),
    [
        (["west,2026-12-20,,,,,,5,,,,,"], ["row 3", "no block of the season", "'west'"]),
        ([",2026-12-20,,,,,,5,,,,,"], ["row 3", "no block of the season"]),
        (["field,2026-09-20,,,,,,5,,,,,"], ["row 3", "before planting", "2026-09-20"]),
        (["field,2026-10-14,,,,,,5,,,,,"], ["row 3", "within 20 days of planting", "'5'"]),
        (["field,2026-12-20,,,,900,,,,,,,"], ["row 3", "open_flowers", "900.0", "0 to 200"]),
        (["field,2026-12-20,,,,,,5000,,,,,"], ["row 3", "out of range", "5000.0", "0 to 500"]),
        (["field,2026-12-20,,,,,,-5,,,,,"], ["row 3", "out of range", "-5"]),
        (["field,2026-12-20,,,,,,ten,,,,,"], ["row 3", "not a number", "'ten'"]),
        (["field,soon,,,,,,5,,,,,"], ["row 3", "not a date", "'soon'"]),
        (["field,,,,,,,5,,,,,"], ["row 3", "column 'date'"]),
        (["field,2026-12-20,,40,41,,,,,,,,"], ["row 3", "more plants in bloom", "'40 41'"]),
        (["field,2026-12-20,,,9,,,,,,,,"], ["row 3", "without the number of plants seen", "'9'"]),
        (["field,2026-12-20,,40.5,9,,,,,,,,"], ["row 3", "plants_seen", "40.5", "whole"]),
        (["field,2026-12-20,,40,0,1.5,,,,,,,"], ["row 3", "no plant is in bloom", "'0 1.5'"]),
        (["field,2026-12-20,,,,,,7,6,,,,"], ["row 3", "more marketable fruit than fruit", "'7 6'"]),
        (["field,2026-12-20,,,,,,7,,rain,,,"], ["row 3", "nothing was picked", "'rain'"]),
        (["field,2026-12-20,,,,,2,,,none ripe,,,"], ["row 3", "none was ripe", "'none ripe 2'"]),
        (["field,2026-12-20,,,,,,,,snow,,,"], ["row 3", "unknown not_picked", "'snow'", "closed"]),
        (["field,2026-12-20,,,,,,,,,5,wolves,"], ["row 3", "unknown lost_to", "'wolves'"]),
        (["field,2026-12-20,,,,,,,,,,hail,"], ["row 3", "without the share of plants", "'hail'"]),
        (["field,2026-12-20,,,,,,,,,101,hail,"], ["row 3", "plants_lost_pct", "101.0"]),
        (["field,2026-12-20,,,,,,,,,60,hail,", "field,2026-12-27,,,,,,,,,60,hail,"],
         ["row 4", "more plants lost than were planted", "'60'"]),
        (["field,2026-12-20,,,,,,5,,,,,", "field,2026-12-20,,,,,,8,,,,,"],
         ["row 3", "row 4", "recorded twice with other values", "'5'", "'8'"]),
        (["field,2026-12-20,,,,,,5,,,,,", "field,2026-12-27,,,,,,,,,,,no first pick"],
         ["row 4", "the first pick was earlier", "'no first pick'"]),
        (["field,2026-12-20,,,,,,5,,,,,", "field,2026-12-27,,,,,,,,,,,first pick"],
         ["row 4", "the first pick was earlier", "'first pick'"]),
        (["field,2026-12-20,,40,12,,,,,,,,", "field,2026-12-27,,,,,,,,,,,no first flower"],
         ["row 4", "flowers or fruit were seen before", "'no first flower'"]),
        (["field,2026-12-20,,,,,,5,,,,,frist pick"], ["row 3", "unknown event", "frist pick"]),
        (["field,2027-09-20,,,,,,5,,,,,"], ["row 3", "after the last day of the season"]),
    ],
)  # fmt: skip
def test_what_cannot_be_is_told_with_row_and_value_and_the_rest_is_used(read, lines, words):
    records = read(HEADER, SOUND, *lines, issued=date(2027, 12, 1))
    assert north(records).loc[114, "marketable_g"] == 6.0
    assert north(records).loc[114, "plants_in_bloom"] == 40.0
    found = told(records)
    for word in words:
        assert word in found
    assert re.search("CAUTION: not used: ", found)


def test_a_flush_without_flowers_later_is_no_contradiction(read):
    records = read(HEADER, SOUND, "field,2027-01-24,,40,0,0,0,,,none ripe,,,")
    assert not records.warnings
    assert north(records).loc[121, ["plants_in_bloom", "marketable_g"]].tolist() == [0.0, 0.0]


def test_a_pick_of_unknown_weight_is_still_a_pick(read):
    records = read(HEADER, SOUND, "field,2026-12-20,,,,,,5,,,,,", "field,2026-12-20,,,,,,8,,,,,")
    assert north(records)["picked"].tolist() == [True, True]
    assert np.isnan(north(records).loc[86, "marketable_g"])


def test_a_pick_ten_times_as_large_is_told(read):
    picks = [20, 25, 30, 280, 26, 24]
    days = pd.date_range("2026-12-20", periods=6, freq="7D").date
    records = read("block,date,marketable_g_per_plant",
                   *(f"field,{day},{g}" for day, g in zip(days, picks, strict=True)))  # fmt: skip
    assert "1 pick is far larger" in told(records)
    assert north(records)["marketable_g"].tolist() == picks


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "empty"),
        ("block,date,event\n", "no rows"),
        ("a,b\n1,2\n", "a column is missing"),
        ("block,date,marketable_g_per_plant,colour\nnorth field,2026-12-20,5,red\n", "colour"),
        ("block,date,marketable\nnorth field,2026-12-20,5\n", "has no unit"),
        ("block,date,marketable [degC]\nnorth field,2026-12-20,5\n", "degC"),
        ("block,date,event\nnorth field,2026-12-20,\n", "no row says anything"),
        ("block,date,marketable_g_per_plant\nwest,2026-12-20,5\n", "no row says anything"),
        ("block,date,marketable_g_per_plant\nnorth field,2026-12-20,ten\n", "not a number"),
        ("block,date,marketable_g_per_plant\nnorth field,2026-09-20,5\n", "before planting"),
    ],
)
def test_a_file_of_which_nothing_can_be_used_is_refused(season, tmp_path, text, words):
    place = tmp_path / "records.csv"
    place.write_text(text)
    with pytest.raises(InputError, match=re.escape(words)) as caught:
        read_season_records(place, season, date(2027, 4, 1))
    assert caught.value.exit_code == 3
