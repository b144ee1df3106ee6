"""Records of picks: what is read, and every fault with its file and row."""

from __future__ import annotations

import numpy as np
import pytest

from phenocast.errors import InputError
from phenocast.io import read_harvest_records, read_season, season_labels, template

SEASON = """\
[site]
name = "Low Quay"
latitude = 29.3
longitude = -15.6
elevation_m = 35
time_zone = "Atlantic/Canary"
[weather]
observed = {{ file = "none.csv" }}
[bed]
top_width_m = 0.7
height_m = 0.25
row_spacing_m = 1.5
soil = "sandy loam"
[[block]]
name = "north field"
cultivar = "Marl"
film = "black"
planting_date = {year}-09-25
plants_per_ha = 50_000
area_ha = 0.1
transplant = "bare-root"
"""


@pytest.fixture
def farm(tmp_path):
    """Two seasons of one block, and a function that writes records and reads them."""
    seasons = {}
    for year in (2024, 2025):
        place = tmp_path / f"s{year}.toml"
        place.write_text(SEASON.format(year=year))
        seasons[f"s{year}"] = read_season(place)

    def read(text, kept=seasons):
        place = tmp_path / "records.csv"
        place.write_text(text)
        return read_harvest_records(place, kept)

    read.seasons = seasons
    return read


def faults_of(read, text):
    with pytest.raises(InputError) as caught:
        read(text)
    return str(caught.value)


def test_the_season_is_told_by_the_date_the_label_or_the_year(farm):
    table = farm(
        "season,block,date,marketable_g_per_plant\n"
        ",north field,2025-01-10,5\ns2025,north field,2026-01-10,6\n2025,north field,2026-01-17,7\n"
    ).table
    assert table["season"].tolist() == ["s2024", "s2025", "s2025"]
    assert table["row"].tolist() == [2, 3, 4]


def test_weights_of_whole_plots_are_shared_by_the_plants(farm):
    table = farm("block,date,marketable [lb]\nnorth field,2025-01-10,100\n").table
    assert table["marketable_g_per_plant"].iloc[0] == pytest.approx(100 * 453.59237 / 5000)
    own = farm("block,date,fruit [kg],plants\nnorth field,2025-01-10,2,25\n").table
    assert own["fruit_g_per_plant"].iloc[0] == pytest.approx(80.0)


def test_a_weight_of_a_plot_without_a_unit_is_refused(farm):
    told = faults_of(farm, "block,date,marketable\nnorth field,2025-01-10,100\n")
    assert "the weight of a plot has no unit" in told
    assert "marketable [kg]" in told


@pytest.mark.parametrize(
    ("row", "words"),
    [
        (",nort field,2025-01-10,5,", ["row 2", "unknown block", "north field"]),
        (",north field,2025-01-10,-5,", ["row 2", "marketable_g_per_plant", "out of range"]),
        (",north field,10 o'clock,5,", ["row 2", "date"]),
        ("s2023,north field,2025-01-10,5,", ["row 2", "season", "s2024, s2025"]),
        (",north field,2020-01-10,5,", ["row 2", "of no season given"]),
        (",north field,2025-01-10,5,frist pick", ["row 2", "event", "first pick"]),
    ],
)
def test_every_fault_names_its_row(farm, row, words):
    told = faults_of(farm, f"season,block,date,marketable_g_per_plant,event\n{row}\n")
    for word in words:
        assert word in told


def test_a_row_that_may_be_of_two_seasons_is_refused(farm):
    twins = dict(farm.seasons)
    twins["again"] = twins["s2024"]
    with pytest.raises(InputError, match="several seasons"):
        farm("block,date,marketable_g_per_plant\nnorth field,2025-01-10,5\n", twins)


def test_all_faults_are_told_at_once(farm):
    told = faults_of(
        farm,
        "block,date,marketable_g_per_plant\nnort field,2025-01-10,5\nsouth,2025-01-10,5\n",
    )
    assert "row 2" in told
    assert "row 3" in told


def test_season_files_of_one_name_are_refused():
    with pytest.raises(InputError, match="one name"):
        season_labels(["a/2024.toml", "b/2024.toml"])


def test_the_template_is_read_as_it_stands(tmp_path):
    season = tmp_path / "2026.toml"
    text = SEASON.format(year=2026)
    south = text[text.index("[[block]]") :].replace("north", "south")
    season.write_text(text + south)
    place = tmp_path / "records.csv"
    place.write_text(template("records"))
    table = read_harvest_records(place, {"2026": read_season(season)}).table
    assert len(table) == 8
    assert table["event"].dropna().tolist() == [
        "no first flower",
        "first flower",
        "no first flower",
    ]
    assert table["marketable_g_per_plant"].tolist()[-2:] == [
        pytest.approx(np.nan, nan_ok=True),
        0.0,
    ]


def test_trays_are_weighed_as_the_season_packs_them(farm):
    table = farm("block,date,trays,plants\nnorth field,2025-01-10,10,1000\n").table
    assert table["marketable_g_per_plant"].iloc[0] == pytest.approx(10 * 3.6287 * 1.02)


def test_ripe_fruit_that_was_left_is_no_pick_of_nothing(farm):
    rows = "north field,2025-01-10,0,rain\nnorth field,2025-01-17,,none ripe\n"
    table = farm("block,date,marketable_g_per_plant,not_picked\n" + rows).table
    assert table["marketable_g_per_plant"].isna().tolist() == [True, False]
    told = faults_of(farm, "block,date,marketable_g_per_plant,not_picked\n"
                     "north field,2025-01-10,7,rain\n")  # fmt: skip
    assert "row 2, column 'not_picked': fruit is weighed and nothing was picked" in told


def test_half_of_the_plants_in_bloom_are_the_first_flower(farm):
    rows = "north field,2024-11-10,40,19\nnorth field,2024-11-17,40,20\nnorth field,2024-11-24,,\n"
    table = farm("block,date,plants_seen,plants_in_bloom\n" + rows).table
    assert table["event"].tolist()[:2] == ["no first flower", "first flower"]
    assert table["event"].isna().tolist() == [False, False, True]


def test_what_a_fit_does_not_use_is_told(farm):
    records = farm("block,date,green_fruit_per_plant\nnorth field,2025-01-10,3\n")
    assert "not used by a fit: green_fruit_per_plant" in records.notes


def test_a_pick_that_no_plants_can_bear_is_refused_with_row_and_value(farm):
    told = faults_of(farm, "block,date,marketable [kg]\nnorth field,2025-01-10,124000\n")
    assert "row 2, column 'marketable'" in told
    assert "'124,000 kg of 5,000 plants, 24,800 g a plant'; allowed: up to 500 g a plant" in told
    kept = farm("block,date,marketable [kg]\nnorth field,2025-01-10,2500\n").table
    assert kept["marketable_g_per_plant"].iloc[0] == pytest.approx(500.0)
    told = faults_of(farm, "block,date,fruit [kg],plants\nnorth field,2025-01-10,2500.5,10\n")
    assert "250,050 g a plant" in told
