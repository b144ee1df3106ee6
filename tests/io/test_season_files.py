"""Season files with the files they name, templates, manifests."""

from __future__ import annotations

import json
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest

from phenocast.errors import InputError
from phenocast.io import (
    TEMPLATE_NAMES,
    InputFile,
    OutputFolder,
    check_outputs,
    check_rerun,
    read_manifest,
    read_season,
    read_table,
    read_weather,
    season_inputs,
    season_weather,
    sha256_of,
    template,
    template_file,
    write_manifest,
)
from phenocast.parameters import cultivars, shipped
from phenocast.parameters import films as films_shipped
from phenocast.tables import HARVEST_RECORDS, PRICES, SENSOR_READINGS, TALLIES, TRIAL_PLOTS


@pytest.fixture
def farm(tmp_path):
    """A folder with the season and weather templates."""
    for name in ("season", "weather"):
        (tmp_path / template_file(name)).write_text(template(name))
    return tmp_path


# ---- templates ----------------------------------------------------------------------------------


def test_every_template_has_comments_and_ascii_free_of_tabs():
    for name in TEMPLATE_NAMES:
        text = template(name)
        assert text.startswith("# ")
        assert "\t" not in text
        assert max(len(line) for line in text.splitlines()) <= 104


def test_season_template_is_a_season(farm):
    season = read_season(farm / "season.toml")
    assert season.blocks[0].name == "north field"
    assert season.warnings == ()
    weather = season_weather(season, farm)
    assert weather.observed[0].step == "hourly"
    assert weather.notes == ()


def test_every_commented_line_of_the_season_template_works(farm):
    # Uncommenting what can be uncommented must give a season, else the template misleads.
    text = template("season")
    for key in ("sprinkling", "row_cover", "lighting", "season_end", "[nursery]", "latitude",
                "longitude", "elevation_m", "time_zone", "from", "weather = ", "[film.my-film]",
                "solar_", "longwave_"):  # fmt: skip
        text = text.replace(f"\n# {key}", f"\n{key}")
    (farm / "season.toml").write_text(text)
    season = read_season(farm / "season.toml")
    assert season.nursery is not None
    assert season.film("my-film").value("solar_reflectance") == 0.45
    assert season.blocks[0].covers[0].kind == "row-cover"


def test_weather_template_is_weather():
    import tempfile

    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder, "weather.csv")
        place.write_text(template("weather"))
        records = read_weather(place)
    assert len(records.table) == 72
    assert records.notes == ()
    assert len(records.columns) == 5


@pytest.mark.parametrize(
    ("name", "contract"),
    [("records", HARVEST_RECORDS), ("sensors", SENSOR_READINGS), ("prices", PRICES),
     ("tallies", TALLIES), ("trial", TRIAL_PLOTS)],
)  # fmt: skip
def test_table_templates_keep_their_contracts(tmp_path, name, contract):
    place = tmp_path / template_file(name)
    place.write_text(template(name))
    assert len(read_table(place, contract)) >= 3


def test_unknown_template_suggests_the_nearest():
    with pytest.raises(InputError, match="did you mean 'records'"):
        template("record")


# ---- season files -------------------------------------------------------------------------------


@pytest.mark.parametrize("encoding", ["utf-8-sig", "utf-16", "cp1252"])
def test_season_in_any_encoding_and_line_end(farm, encoding):
    text = template("season").replace("north field", "nördliches Feld").replace("\n", "\r\n")
    (farm / "season.toml").write_bytes(text.encode(encoding))
    assert read_season(farm / "season.toml").blocks[0].name == "nördliches Feld"


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("latitude = 29,3", "row 3, column"),
        ('name = "Low Quay', "row 3, column"),
        ("planting_date = 2026-13-05", "row 3, column"),
        ("[site", "row 3, column"),
    ],
)
def test_toml_errors_name_their_line(tmp_path, line, words):
    place = tmp_path / "season.toml"
    place.write_text(f"# one\n# two\n{line}\n")
    with pytest.raises(InputError) as caught:
        read_season(place)
    assert words in str(caught.value)
    assert "cannot be read as TOML" in str(caught.value)


def test_named_cultivars_films_and_cover_are_read(farm):
    own = shipped("calibration", "cultivars.toml").read_text()
    (farm / "mine.toml").write_text(own.replace("cultivar.Basalt", "cultivar.Mine"))
    films = shipped("calibration", "films.toml").read_text()
    (farm / "films.toml").write_text(films.replace("film.silver", "film.trial"))
    (farm / "cover.csv").write_text("date,cover [%]\n2026-11-01,20\n2026-10-20,10\n")
    text = template("season")
    text = 'cultivar_file = "mine.toml"\n' + text.replace('"Basalt"', '"Mine"')
    text = text.replace('"white-on-black"', '"trial"', 1)
    text = text.replace('transplant = "bare', 'cover = { file = "cover.csv" }\ntransplant = "bare')
    text += '\n[film.trial]\nfile = "films.toml"\n'
    (farm / "season.toml").write_text(text)
    season = read_season(farm / "season.toml")
    assert dict(season.cultivar("Mine")) == dict(cultivars()["Basalt"])
    assert dict(season.film("trial")) == dict(films_shipped()["silver"])
    assert [round(reading.cover, 3) for reading in season.blocks[0].canopy] == [0.1, 0.2]
    roles = [one.role for one in season_inputs(farm / "season.toml", season)]
    assert roles == ["season", "cultivars", "film", "cover", "observed"]


def test_faults_of_named_files_and_of_the_season_come_together(farm):
    text = 'cultivar_file = "gone.toml"\n' + template("season").replace("43000", "0")
    (farm / "season.toml").write_text(text)
    with pytest.raises(InputError) as caught:
        read_season(farm / "season.toml")
    assert "gone.toml" in str(caught.value)
    assert "plants_per_ha" in str(caught.value)


def test_cover_of_one_day_twice(farm):
    (farm / "cover.csv").write_text("date,cover\n2026-10-20,0.1\n2026-10-20,0.2\n")
    text = template("season").replace(
        'transplant = "bare', 'cover = { file = "cover.csv" }\ntransplant = "bare'
    )
    (farm / "season.toml").write_text(text)
    with pytest.raises(InputError, match=r"cover\.csv, row 3: a day comes twice"):
        read_season(farm / "season.toml")


def test_film_file_without_that_film(farm):
    (farm / "films.toml").write_text(shipped("calibration", "films.toml").read_text())
    text = template("season") + '\n[film.mine]\nfile = "films.toml"\n'
    (farm / "season.toml").write_text(text)
    with pytest.raises(InputError, match=r"unknown film.*'mine'.*black"):
        read_season(farm / "season.toml")


def test_stated_options_reach_the_reader(farm):
    weather = "Logged,T\n" + "".join(f"{h:02d}:00 5/10/2026,68\n" for h in range(24))
    (farm / "weather.csv").write_text(weather)
    text = template("season").replace(
        'observed = { file = "weather.csv" }',
        'observed = { file = "weather.csv", columns = { time = "Logged", air_c = "T" }, '
        'units = { air_c = "degF" }, time_format = "%H:%M %d/%m/%Y", stamp = "start", '
        "local_standard = true, wind_height_m = 3.0 }",
        1,
    )
    (farm / "season.toml").write_text(text)
    (records,) = season_weather(read_season(farm / "season.toml"), farm).observed
    assert records.table["air_c"].tolist() == pytest.approx([20.0] * 24)
    assert records.wind_height_m == 3.0
    assert str(records.table["time_utc"].iloc[0]) == "2026-10-05 00:00:00"


# ---- manifests ----------------------------------------------------------------------------------


def run(farm, name, **changed):
    season_path = farm / "season.toml"
    season = read_season(season_path)
    with OutputFolder(farm / name) as folder:
        folder.write("forecast.json", '{"week": "2027-W03"}\n')
        folder.write("pages/index.html", "<p>\n")
        options = {"draws": 200, "as_of": None, **changed}
        write_manifest(
            folder, "forecast", options=options, seed=7, season=season,
            inputs=season_inputs(season_path, season), warnings=["one"],
        )  # fmt: skip
    return farm / name


def test_manifest_holds_what_a_rerun_needs(farm):
    out = run(farm, "run")
    manifest = read_manifest(out)
    assert manifest == read_manifest(out / "manifest.json")
    assert manifest.command == "forecast"
    assert manifest.options == {"draws": 200, "as_of": None}
    assert manifest.seed == 7
    assert manifest.season is not None
    assert manifest.season["blocks"][0]["planting_date"] == "2026-10-05"
    assert [one.role for one in manifest.inputs] == ["season", "observed"]
    assert manifest.inputs[1].sha256 == sha256_of(farm / "weather.csv")
    assert [one.path for one in manifest.outputs] == ["forecast.json", "pages/index.html"]
    assert {one.path for one in manifest.parameters} >= {"calibration/films.toml"}
    assert {"phenocast", "python", "numpy", "pvlib"} <= set(manifest.versions)
    assert check_rerun(manifest, out) == []
    assert check_outputs(manifest, out) == []


def test_two_runs_have_the_same_manifest_byte_for_byte(farm):
    first, second = run(farm, "one"), run(farm, "two")
    assert (first / "manifest.json").read_bytes() == (second / "manifest.json").read_bytes()


def test_changed_and_missing_inputs_are_refused(farm):
    out = run(farm, "run")
    (farm / "weather.csv").write_text(template("weather") + "2026-10-08 00:00,20,18,2,0,0\n")
    with pytest.raises(InputError, match=r"observed file has changed.*weather|weather.*changed"):
        check_rerun(read_manifest(out), out)
    (farm / "weather.csv").unlink()
    with pytest.raises(InputError, match="no such file"):
        check_rerun(read_manifest(out), out)


def test_changed_parameters_are_refused_and_other_versions_are_said(farm):
    out = run(farm, "run")
    document = json.loads((out / "manifest.json").read_text())
    document["parameters"][0]["sha256"] = "0" * 64
    document["versions"]["numpy"] = "1.0"
    (out / "manifest.json").write_text(json.dumps(document))
    with pytest.raises(InputError, match="shipped parameters have changed"):
        check_rerun(read_manifest(out), out)
    manifest = replace(read_manifest(out), parameters=())
    (warning,) = check_rerun(manifest, out)
    assert "numpy was 1.0" in warning


def test_changed_outputs_are_found(farm):
    out = run(farm, "run")
    (out / "forecast.json").write_text("{}")
    (out / "pages" / "index.html").unlink()
    faults = [fault.what for fault in check_outputs(read_manifest(out), out)]
    assert faults == ["the rerun wrote another content", "the rerun did not write this file"]


def test_inputs_inside_the_folder_move_with_it(farm):
    with OutputFolder(farm / "demo") as folder:
        copy = folder.write("season.toml", template("season"))
        write_manifest(folder, "demo", options={}, inputs=[InputFile("season", copy)])
    moved = (farm / "demo").rename(farm / "elsewhere")
    manifest = read_manifest(moved)
    assert manifest.inputs[0].path == "season.toml"
    assert manifest.input_paths("season", moved) == (moved / "season.toml",)
    assert check_rerun(manifest, moved) == []


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("{", "cannot be read as JSON"),
        ("[]", "it names no command"),
        ('{"command": "x", "schema_version": 99}', "another version"),
        (
            '{"command": "x", "schema_version": 1, "inputs": [{"file": "a"}]}',
            "role: this key is required",
        ),
    ],
)
def test_what_is_no_manifest_is_refused(tmp_path, text, words):
    place = tmp_path / "manifest.json"
    place.write_text(text)
    with pytest.raises(InputError, match=words):
        read_manifest(place)


def test_importing_the_layer_loads_nothing_heavy():
    code = (
        "import sys, phenocast.io; phenocast.io.template; phenocast.io.OutputFolder;"
        "heavy = {'pandas', 'pyarrow', 'pvlib', 'numba', 'scipy'} & set(sys.modules);"
        "sys.exit(', '.join(heavy) if heavy else 0)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
