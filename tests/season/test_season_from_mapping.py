"""A season file is read whole or refused with every fault at once."""

from __future__ import annotations

import copy
import datetime as dt
import tomllib
from typing import Any

import pytest

from phenocast.errors import InputError
from phenocast.parameters import Parameter, ParameterSet, cultivars
from phenocast.season import ClockHours, FrostProtection, named_files, season_from_mapping

TEXT = """
season_end = 2027-05-15
first_pick_g_per_plant = 5
[site]
name = "Tamarind Coast"
latitude = 29.3
longitude = -15.6
elevation_m = 35
time_zone = "Atlantic/Canary"
[weather]
observed = { file = "so_far.csv", units = { air = "degF" } }
history = ["2001.parquet", "2002.parquet"]
[bed]
top_width_m = 0.7
height_m = 0.25
row_spacing_m = 1.5
soil = "sandy loam"
[film.grey]
solar_reflectance = 0.30
solar_transmittance = 0.01
longwave_emittance = 0.80
longwave_transmittance = 0.10
[nursery]
latitude = 41.5
longitude = -4.7
elevation_m = 750
time_zone = "Europe/Madrid"
from = 2026-08-01
weather = "nursery.csv"
blocks = ["Quay East"]
[[block]]
name = "Quay East"
cultivar = "Marl"
film = "grey"
planting_date = 2026-09-25
plants_per_ha = 50_000
area_ha = 1.5
transplant = "bare-root"
sprinkling = { days = 9, hours = [10, 16], water_ph = 7.6 }
row_cover = { from = 2026-12-01, to = 2027-02-15, hours = ["18:00", "08:30"] }
lighting = [{ from = 2026-11-01, to = 2026-12-01, hours = ["22:00", "02:00"] }]
cover = [{ date = 2026-10-25, cover = 0.1 }, { date = 2026-11-25, cover = 0.3 }]
[[block]]
name = "Quay West"
cultivar = "Tuff"
film = "metallised-striped"
planting_date = 2026-10-01
plants_per_ha = 50_000
area_ha = 1.5
transplant = "plug"
stripe_width_m = 0.3
season_end = 2027-07-01
first_pick_g_per_plant = 3
cover = { file = "photos.csv" }
"""


def stated() -> dict[str, Any]:
    return copy.deepcopy(tomllib.loads(TEXT))


def refused(mapping: dict[str, Any]) -> InputError:
    with pytest.raises(InputError) as told:
        season_from_mapping(mapping, "season.toml")
    return told.value


def test_everything_stated_arrives() -> None:
    season = season_from_mapping(stated(), "season.toml")
    east, west = season.blocks
    assert season.site.latitude == 29.3
    assert season.weather.history is not None
    assert season.weather.history.files == ("2001.parquet", "2002.parquet")
    assert season.weather.observed is not None
    assert season.weather.observed.units == {"air": "degF"}
    assert season.weather.outlook is None
    assert east.plants == 75_000
    assert east.sprinkling is not None
    assert east.sprinkling.hours == ClockHours(10.0, 16.0)
    assert (east.covers[0].kind, east.covers[0].hours) == ("row-cover", ClockHours(18.0, 8.5))
    assert (east.lighting[0].kind, east.lighting[0].hours.length_h) == ("light", 4.0)
    assert [reading.cover for reading in east.canopy] == [0.1, 0.3]
    assert (west.canopy, west.canopy_file) == ((), "photos.csv")
    assert season.nursery is not None
    assert season.nursery.supplies("Quay East")
    assert not season.nursery.supplies("Quay West")
    assert season.film("grey").value("solar_reflectance") == 0.30
    assert season.shoulder("metallised-striped") is season.film("black")
    assert season.shoulder("grey") is None
    assert season.source_name == "season.toml"
    assert season.warnings == ()


def test_a_block_overrides_what_is_stated_for_all() -> None:
    east, west = season_from_mapping(stated()).blocks
    assert (east.season_end, east.first_pick_g_per_plant) == (dt.date(2027, 5, 15), 5.0)
    assert (west.season_end, west.first_pick_g_per_plant) == (dt.date(2027, 7, 1), 3.0)


def test_first_pick_threshold_is_three_grams_unless_stated() -> None:
    mapping = stated()
    del mapping["first_pick_g_per_plant"]
    assert season_from_mapping(mapping).blocks[0].first_pick_g_per_plant == 3.0


def test_all_faults_of_a_file_are_told_at_once() -> None:
    mapping = stated()
    mapping["site"]["latitude"] = 78.2
    mapping["bed"]["hight_m"] = mapping["bed"].pop("height_m")
    mapping["bed"]["soil"] = "sandyloam"
    mapping["block"][0]["film"] = "gray"
    mapping["block"][0]["area_ha"] = -1.5
    mapping["block"][1]["plants_per_ha"] = 0
    mapping["block"][1]["cultivar"] = "Tufff"
    mapping["nursery"]["blocks"] = ["Quay Eastt"]
    where = {fault.where: fault for fault in refused(mapping).faults}
    assert set(where) == {
        "season.toml: site.latitude",
        "season.toml: bed.height_m",
        "season.toml: bed.hight_m",
        "season.toml: bed.soil",
        'season.toml: block[0] "Quay East".film',
        'season.toml: block[0] "Quay East".area_ha',
        'season.toml: block[1] "Quay West".plants_per_ha',
        'season.toml: block[1] "Quay West".cultivar',
        "season.toml: nursery.blocks[0]",
    }
    assert "polar circle" in where["season.toml: site.latitude"].what
    assert where['season.toml: block[0] "Quay East".film'].do == "did you mean 'grey'?"
    assert where["season.toml: bed.soil"].do == "did you mean 'sandy loam'?"
    assert where["season.toml: nursery.blocks[0]"].do == "did you mean 'Quay East'?"
    assert where["season.toml: bed.hight_m"].do == "did you mean 'height_m'?"
    assert where['season.toml: block[1] "Quay West".plants_per_ha'].value == 0
    assert "above 0" in where['season.toml: block[1] "Quay West".plants_per_ha'].allowed


# path of the key, value put there, words that the message must hold
BAD_VALUES = [
    (("site", "latitude"), 95.0, "not a latitude"),
    (("site", "latitude"), -70.0, "polar circle"),
    (("site", "latitude"), "29.3", "number without quotes"),
    (("site", "longitude"), 200.0, "not a longitude"),
    (("site", "longitude"), float("nan"), "not a number"),
    (("site", "elevation_m"), 9000.0, "0 m"),
    (("site", "time_zone"), "Atlantic/Canari", "did you mean 'Atlantic/Canary'?"),
    (("site", "name"), "  ", "empty"),
    (("weather", "observed", "units", "air"), "degX", "unknown unit"),
    (("weather", "observed", "stamp"), "middle", "'start' or 'end'"),
    (("weather", "observed", "time_zone"), "Mars/Crater", "unknown time zone"),
    (("weather", "history"), [], "not a file name"),
    (("bed", "top_width_m"), 1.6, "wider than the distance"),
    (("bed", "top_width_m"), True, "number without quotes"),
    (("bed", "plant_row_offset_m"), 0.5, "beside the bed top"),
    (("bed", "soil_water_m3_m3"), 25.0, "0.01 to 0.6"),
    (("block",), [], "at least one"),
    (("block", 0, "plants_per_ha"), 0, "above 0"),
    (("block", 0, "plants_per_ha"), -1, "above 0"),
    (("block", 0, "area_ha"), -0.1, "above 0"),
    (("block", 0, "planting_date"), "25/09/2026", "day-first"),
    (("block", 0, "planting_date"), "2026-02-30", "no such day"),
    (("block", 0, "planting_date"), 20260925, "not a date"),
    (("block", 0, "planting_date"), dt.datetime(2026, 9, 25, 14), "time of day"),
    (("block", 0, "planting_date"), dt.date(26, 9, 25), "year"),
    (("block", 0, "transplant"), "bareroot", "did you mean 'bare-root'?"),
    (("block", 0, "name"), "Quay West", "same name"),
    (("block", 0, "season_end"), dt.date(2026, 9, 1), "ends before it begins"),
    (("block", 0, "season_end"), dt.date(2029, 9, 1), "two years"),
    (("block", 0, "film_laid"), dt.date(2026, 10, 1), "laid after planting"),
    (("block", 0, "stripe_width_m"), 0.2, "no stripe"),
    (("block", 1, "stripe_width_m"), 0.9, "wider than the bed top"),
    (("block", 0, "first_pick_g_per_plant"), 0.0, "above 0"),
    (("block", 0, "sprinkling", "days"), 2.5, "whole number"),
    (("block", 0, "sprinkling", "hours"), [10], "two hours"),
    (("block", 0, "sprinkling", "hours"), [10, 10], "the same"),
    (("block", 0, "sprinkling", "hours"), ["10:75", "12:00"], "not an hour"),
    (("block", 0, "sprinkling", "water_ph"), 15.0, "0 to 14"),
    (("block", 0, "row_cover", "to"), dt.date(2026, 11, 1), "ends before it begins"),
    (("block", 0, "row_cover", "from"), dt.date(2027, 3, 1), "ends before it begins"),
    (("block", 1, "frost_protection"), "sprinklers", "'overhead-water'"),
    (("block", 1, "frost_protection"), "row-cover", "has no days"),
    (("block", 0, "frost_protection"), "none", "has a cover"),
    (
        ("block", 0, "frost_protection"),
        {"kind": "row-cover", "from": dt.date(2026, 12, 1)},
        "stand in row_cover",
    ),
    (("block", 1, "frost_protection"), {"kind": "none", "rate_mm_h": 4.0}, "only for overhead"),
    (("block", 1, "frost_protection"), {"rate_mm_h": 4.0}, "required"),
    (("block", 1, "frost_protection"), {"kind": "overhead-water", "rate_mm_h": 0}, "above 0"),
    (("block", 1, "frost_protection"), {"kind": "overhead-water", "max_wind_m_s": -1}, "above 0"),
    (("block", 1, "frost_protection"), {"kind": "overhead-water", "down_to_c": 24}, "-15 to 0"),
    (("block", 1, "frost_protection"), {"kind": "overhead-water", "rate": 4.0}, "rate_mm_h"),
    (
        ("block", 1, "frost_protection"),
        {"kind": "overhead-water", "from": dt.date(2027, 2, 1), "to": dt.date(2027, 1, 1)},
        "ends before it begins",
    ),
    (
        ("block", 1, "frost_protection"),
        {"kind": "overhead-water", "to": dt.date(2026, 1, 1)},
        "before planting",
    ),
    (("block", 0, "lighting"), 3, "a table"),
    (("block", 0, "cover", 1, "date"), dt.date(2026, 10, 1), "order of days"),
    (("block", 0, "cover", 0, "date"), dt.date(2026, 9, 1), "before planting"),
    (("block", 0, "cover", 0, "cover"), 30.0, "0 to 1"),
    (("film", "grey", "solar_transmittance"), 0.8, "more than 1"),
    (("film", "grey", "shoulder"), "black", "both shoulder and stripe_width_m"),
    (("film", "grey", "file"), "fit.toml", "either a file or numbers"),
    (("film", "black"), {"file": "fit.toml"}, "shipped film"),
    (("nursery", "from"), dt.date(2026, 9, 26), "after planting"),
    (("nursery", "to"), dt.date(2026, 7, 1), "ends before it begins"),
    (("nursery", "to"), dt.date(2026, 9, 28), "after planting"),
    (("nursery", "latitude"), 70.0, "polar circle"),
    (("season_end",), dt.date(2026, 9, 1), "ends before it begins"),
    (("labor",), {}, "unknown key"),
]


@pytest.mark.parametrize(("keys", "value", "words"), BAD_VALUES)
def test_a_bad_value_is_refused_at_its_path(
    keys: tuple[str | int, ...], value: object, words: str
) -> None:
    mapping: Any = stated()
    table: Any = mapping
    for key in keys[:-1]:
        table = table[key]
    table[keys[-1]] = value
    error = refused(mapping)
    assert words in str(error)
    assert all(fault.where.startswith("season.toml: ") for fault in error.faults)
    named = [str(key) for key in keys if isinstance(key, str)]
    assert any(named[0] in fault.where for fault in error.faults)


@pytest.mark.parametrize(
    ("table", "key"),
    [("site", "time_zone"), ("bed", "soil"), ("nursery", "weather"), ("weather", None)],
)
def test_a_missing_key_is_named(table: str, key: str | None) -> None:
    mapping = stated()
    if key is None:
        del mapping[table]
    else:
        del mapping[table][key]
    fault = refused(mapping).faults[0]
    assert fault.where == f"season.toml: {table}" + (f".{key}" if key else "")
    assert "required" in fault.what


def test_some_weather_must_be_stated() -> None:
    mapping = stated()
    mapping["weather"] = {"outlook": "members.csv"}
    assert "observed, history or both" in str(refused(mapping))


def test_overlapping_covers_are_refused() -> None:
    mapping = stated()
    first = mapping["block"][0]["row_cover"]
    second = {"from": dt.date(2027, 2, 1), "to": dt.date(2027, 3, 1)}
    mapping["block"][0]["row_cover"] = [first, second]
    assert "overlap" in str(refused(mapping))


@pytest.mark.parametrize(
    ("film", "ph", "said"),
    [
        ("metallised-striped", 8.6, "block 'Quay East': water of pH 8.6"),
        ("metallised-striped", 3.9, "block 'Quay East': water of pH 3.9"),
        ("metallised", 9.4, "STRONG"),
        ("metallised", 8.5, None),
        ("metallised", 4.0, None),
        ("silver", 9.4, None),
        ("black", 9.4, None),
    ],
)
def test_water_that_eats_the_metal_is_warned_of(film: str, ph: float, said: str | None) -> None:
    mapping = stated()
    mapping["block"][0]["film"] = film
    mapping["block"][0]["sprinkling"]["water_ph"] = ph
    warnings = season_from_mapping(mapping).warnings
    if said is None:
        assert warnings == ()
    else:
        assert len(warnings) == 1
        assert warnings[0].startswith(said)
        assert ("STRONG" in warnings[0]) == (ph > 9.0)


def test_a_longitude_of_the_wrong_sign_is_warned_of() -> None:
    mapping = stated()
    mapping["site"].update(longitude=112.0, latitude=33.4, time_zone="America/Phoenix")
    assert "sign of the longitude" in season_from_mapping(mapping).warnings[0]


def test_a_users_film_keeps_its_spread_inside_zero_and_one() -> None:
    film = season_from_mapping(stated()).film("grey")
    drawn = film.draw(seed=3, n=400)
    assert film["solar_transmittance"].lower == 0.0
    assert drawn["solar_transmittance"].min() >= 0.0
    assert drawn["solar_reflectance"].std() > 0.01


def test_cultivars_of_the_users_files_are_known_names() -> None:
    mapping = stated()
    mapping["cultivar_file"] = "own.toml"
    mapping["film"]["fitted"] = {"file": "fit.toml"}
    mapping["block"][0].update(cultivar="Slate", film="fitted")
    assert "unknown cultivar" in str(refused(mapping))
    assert "not read" in str(refused(mapping))
    assert named_files(mapping).cultivar_files == ("own.toml",)
    assert named_files(mapping).film_files == {"fitted": "fit.toml"}
    slate = ParameterSet("Slate", dict(cultivars()["Marl"].items()))
    fitted = ParameterSet(
        "fitted",
        {"solar_reflectance": Parameter(0.4, "1", 0.3, 0.5, 0.02, "fitted", "", "x", "", True)},
    )
    season = season_from_mapping(
        mapping, user_cultivars={"Slate": slate}, user_films={"fitted": fitted}
    )
    assert season.cultivar("Slate") is slate
    assert season.film("fitted") is fitted


@pytest.mark.parametrize("whole", [{}, {"site": 3, "bed": [], "block": "x", "film": 1}])
def test_a_file_of_nonsense_is_refused_without_a_crash(whole: dict[str, Any]) -> None:
    assert len(refused(whole).faults) >= 4


def test_southern_season_across_new_year_is_accepted() -> None:
    mapping = stated()
    del mapping["nursery"]
    mapping["site"].update(latitude=-26.6, longitude=152.9, time_zone="Australia/Brisbane")
    season = season_from_mapping(mapping)
    assert season.site.standard_offset_h == 10.0
    assert season.warnings == ()


def test_protection_from_frost_is_read_from_a_word_or_a_table() -> None:
    mapping = stated()
    mapping["block"][1]["frost_protection"] = "overhead-water"
    east, west = season_from_mapping(mapping).blocks[:2]
    assert east.frost_protection is None
    assert east.frost_kind == "row-cover"  # by its cover alone
    assert west.frost_protection == FrostProtection("overhead-water")
    mapping["block"][1]["frost_protection"] = {
        "kind": "overhead-water", "from": dt.date(2026, 12, 1), "to": dt.date(2027, 3, 15),
        "rate_mm_h": 4, "max_wind_m_s": 2.5, "down_to_c": -5,
    }  # fmt: skip
    assert season_from_mapping(mapping).blocks[1].frost_protection == FrostProtection(
        "overhead-water", dt.date(2026, 12, 1), dt.date(2027, 3, 15), 4.0, 2.5, -5.0
    )
    del mapping["block"][1]["frost_protection"]
    assert season_from_mapping(mapping).blocks[1].frost_kind is None
