"""Hostile documents by name: how each is refused, and a piece of what is said."""

from __future__ import annotations

import copy
import json
import tomllib
from typing import Any

import pandas as pd
import pytest
from click.testing import CliRunner

from phenocast.cli.group import cli
from phenocast.io import read_cultivars, read_film, read_season
from phenocast.io.output.fit_folder import read_fit
from phenocast.io.season_file import read_transplants
from tests.hostile import sound
from tests.hostile.mutations import refused
from tests.hostile.test_documents import manifest_of
from tests.hostile.trees import NAN, toml_of

DEEP = "[" * 5000
ENDLESS = "9" * 5000

# What the whole text is changed to, or a piece of it to another; and pieces of the message.
SEASON_TEXTS = {
    "nested lists": (None, f"x = {DEEP}", "cannot be read as TOML", "too deep"),
    "nested tables": (None, "x = " + "{a = " * 5000, "cannot be read as TOML"),
    "nested but closed": (None, "x = " + "[" * 40 + "]" * 40, "too deep", "16 levels"),
    "a key of 50 000 parts": (None, ".".join("a" * 50_000) + " = 1", "too deep"),
    "a table of 50 000 parts": (None, f"[{'.'.join('a' * 50_000)}]", "too deep"),
    "quoted parts": (None, '.'.join(['"a b"'] * 9000) + " = 1", "too deep"),
    "an endless whole number": ("50_000", ENDLESS, "cannot be read as TOML", "4300 digits"),
    "an endless hexadecimal": ("50_000", "0x" + "f" * 6000, "too many digits", "plants_per_ha"),
    "a number of 25 digits": ("50_000", "9" * 25, "too many digits", "plants_per_ha"),
    "a below-zero number of 25 digits": ("35\n", f"-{'9' * 25}\n", "too many digits"),
    "an endless decimal": ("29.3", f"29.{'3' * 5000}1e400", "site.latitude", "finite number"),
    "NaN for a latitude": ("29.3", "nan", "site.latitude: not a number (value nan"),
    "infinity for an area": ("area_ha = 1.2", "area_ha = inf", "area_ha: not a number"),
    "a decimal comma": ("29.3", "29,3", "row 8, column", "decimals take a point"),
    "a date that is none": ("2026-09-28", "2026-09-31", "row 48"),
    "the year 1": ("planting_date = 2026-09-28", "planting_date = 0001-09-28", "1900 to 2100"),
    "the year 9999": ("planting_date = 2026-09-28", "planting_date = 9999-09-28", "1900 to 2100"),
    "a film table that is a list": ("[film.mine]", "[[film.mine]]", "film.mine", "a table"),
    "every film a list": ("[film.mine]", "[[film]]", "film: the wrong kind of value"),
    "a key twice": ("elevation_m = 35", "elevation_m = 35\nelevation_m = 36", "row 11"),
    "a zero byte": ("Home", "Ho\x00me", "the file is not readable text"),
    "ESC in a name": ("Home", "Ho\x1b[31mme", "cannot be read as TOML"),
    "a web page": (None, "<html><body>No</body></html>", "cannot be read as TOML"),
    "JSON": (None, '{"site": {}}', "cannot be read as TOML"),
    "only blanks": (None, " \n \n", "the file is empty"),
    "only a comment": (None, "# nothing\n", "site", "this key is required"),
    "an optic above 1": ("solar_reflectance = 0.45", "solar_reflectance = 1.5",
                         "film.mine.solar_reflectance: out of range", "0 to 1"),
    "optics that add past 1": ("solar_transmittance = 0.02", "solar_transmittance = 0.9",
                               "add to more than 1"),
    "a misspelt optic": ("solar_reflectance =", "solar_reflectence =", "did you mean 'solar_refl"),
    "a name of 10 000 letters": ('"East"', f'"{"E" * 10_000}"', "nursery.blocks[0]"),
}  # fmt: skip


@pytest.mark.parametrize("case", SEASON_TEXTS)
def test_a_hostile_season_text(tmp_path, case):
    old, new, *pieces = SEASON_TEXTS[case]
    place = sound.write_season(tmp_path)
    assert old is None or old in sound.SEASON
    text = new if old is None else sound.SEASON.replace(old, new, 1)
    place.write_text(text, encoding="utf-8")
    refused(lambda: read_season(place), *pieces)


# Path in the season, the value put there (DROP takes it out), and pieces of the message.
DROP = object()
SEASON_VALUES: dict[str, tuple[tuple[Any, ...], Any, str]] = {
    "site a list": (("site",), [1], "site: the wrong kind of value"),
    "site a number": (("site",), 3, "a table"),
    "a site without a zone": (("site", "time_zone"), DROP, "site.time_zone: this key is required"),
    "a zone that leads out": (("site", "time_zone"), "../../etc/passwd", "unknown time zone"),
    "a zone that is a number": (("site", "time_zone"), 5, "a text in quotes"),
    "latitude as text": (("site", "latitude"), "29.3", "a number without quotes"),
    "latitude true": (("site", "latitude"), True, "a number without quotes"),
    "latitude a table": (("site", "latitude"), {"deg": 29}, "a number without quotes"),
    "a longitude of 1e308": (("site", "longitude"), 1e308, "not a longitude"),
    "weather a text": (("weather",), "w.csv", "weather: the wrong kind of value"),
    "weather without files": (("weather",), {}, "no weather is stated"),
    "a file that is a number": (("weather", "history"), 3, "a table"),
    "a file without a name": (("weather", "history"), "", "not a file name"),
    "a list of files with a number": (("weather", "history"), ["a.csv", 3], "not a file name"),
    "units a list": (("weather", "observed", "units"), ["degF"], "a table"),
    "a unit that is a number": (("weather", "observed", "units"), {"air_c": 3}, "a text"),
    "a unit that is none": (("weather", "observed", "units"), {"air_c": "furlong"}, "unit"),
    "columns of numbers": (("weather", "observed", "columns"), {"air_c": 3}, "not a text"),
    "stamp in the middle": (("weather", "observed", "stamp"), "middle", "not one of the choices"),
    "a wind height of 0": (("weather", "observed", "wind_height_m"), 0, "above 0.1"),
    "most_missing of 2": (("weather", "most_missing"), 2, "0 to 0.5"),
    "most_missing NaN": (("weather", "most_missing"), NAN, "not a number"),
    "blocks a table": (("block",), {"name": "East"}, "a list"),
    "no blocks": (("block",), [], "at least one is needed"),
    "blocks of numbers": (("block",), [1, 2], "a table"),
    "blocks in blocks": (("block",), [[{"name": "East"}]], "a table"),
    "plants as text": (("block", 0, "plants_per_ha"), "50 000", "a number without quotes"),
    "a planting date as text": (("block", 0, "planting_date"), "28/09/2026", "not guessed at"),
    "a planting date as number": (("block", 0, "planting_date"), 20260928, "year-month-day"),
    "a block without a name": (("block", 0, "name"), "  ", "the text is empty"),
    "cover a number": (("block", 0, "cover"), 0.4, "a list"),
    "cover a list of lists": (("block", 0, "cover"), [[]], "a table"),
    "cover with a file of a list": (("block", 0, "cover"), {"file": []}, "cover"),
    "row cover of one hour": (("block", 0, "row_cover", 0, "hours"), [18], "two hours are wanted"),
    "hours of texts": (("block", 0, "sprinkling", "hours"), ["ten", "four"], "not an hour"),
    "hours of NaN": (("block", 0, "sprinkling", "hours"), [NAN, 4], "not an hour"),
    "a day of 25 hours": (("block", 0, "sprinkling", "hours"), [1, 25], "not an hour"),
    "days of 1.5": (("block", 0, "sprinkling", "days"), 1.5, "a whole number"),
    "a film file that is a list": (("film", "fitted", "file"), ["film.toml"], "a text"),
    "a film file that leads nowhere": (("film", "fitted", "file"), "no.toml", "no such file"),
    "a film file that is a folder": (("film", "fitted", "file"), ".", "folder"),
    "a film of a list": (("film", "mine"), [0.4, 0.1], "a table"),
    "films a text": (("film",), "black", "a table"),
    "a shipped film": (("film", "black"), {"file": "film.toml"}, "a shipped film has this name"),
    "cultivar files of numbers": (("cultivar_file",), [1], "not a file name"),
    "a cultivar file of a table": (("cultivar_file",), {"file": "own.toml"}, "not a file name"),
    "a cultivar file that is gone": (("cultivar_file",), "gone.toml", "gone.toml: no such file"),
    "overtime of one number": (("labour", "overtime", "day"), [8], "a list"),
    "overtime of threes": (("labour", "overtime", "day"), [[8, 1.5, 2]], "is no pair"),
    "half a person": (("labour", "crew_most"), 40.5, "whole number"),
    "a crew as a table": (("labour", "crew_so_far"), {"people": 3}, "from: this key is required"),
    "prices of a 13th month": (("prices", "months"), {"tridec": 3}, "unknown month"),
    "prices of nothing": (("prices", "months"), {}, "stated in no way"),
    "a price of NaN": (("prices", "months"), {"dec": NAN}, "not a number"),
    "a cost of a film that is none": (("costs", "film_per_ha"), {"blak": 9},
                                      "did you mean 'black'"),
    "a nursery that is a list": (("nursery",), [{"latitude": 43}], "a table"),
    "a nursery at the pole": (("nursery", "latitude"), 89.0, "beyond the polar circle"),
    "an unknown table": (("blocks",), {"a": 1}, "did you mean 'block'?"),
    "an empty key": (("",), 1, "unknown key"),
}  # fmt: skip


def put(tree: Any, path: tuple[Any, ...], value: Any) -> Any:
    """Copy of a tree with a value at a path, or without what is there."""
    tree = copy.deepcopy(tree)
    here = tree
    for step in path[:-1]:
        here = here[step]
    if value is DROP:
        del here[path[-1]]
    else:
        here[path[-1]] = value
    return tree


@pytest.mark.parametrize("case", SEASON_VALUES)
def test_a_hostile_value_in_a_season(tmp_path, case):
    path, value, piece = SEASON_VALUES[case]
    place = sound.write_season(tmp_path)
    place.write_text(toml_of(put(sound.season_tree(), path, value)), encoding="utf-8")
    refused(lambda: read_season(place), piece)


SLATE = ("cultivar", "Slate", "development_base")
CULTIVARS: dict[str, tuple[tuple[Any, ...], Any, str]] = {
    "no table": (("cultivar",), 3, "the file holds no cultivar"),
    "a list of cultivars": (("cultivar",), [{"like": "Marl"}], "the file holds no cultivar"),
    "a cultivar that is a list": (("cultivar", "Slate"), [1], "a table"),
    "like a number": (("cultivar", "Slate", "like"), 3, "without a birth certificate"),
    "like itself": (("cultivar", "Slate", "like"), "Slate", "unknown cultivar"),
    "a number alone": (SLATE, 3.5, "without a birth certificate"),
    "a list for a number": (SLATE, [3.5], "without a birth certificate"),
    "an empty certificate": (SLATE, {}, "lacks value, unit"),
    "a value as text": ((*SLATE, "value"), "3.5", "value is not a number"),
    "a value that is true": ((*SLATE, "value"), True, "value is not a number"),
    "a value of NaN": ((*SLATE, "value"), NAN, "value is not a finite number"),
    "a spread without end": ((*SLATE, "sd"), float("inf"), "sd is not a finite number"),
    "bounds without end": ((*SLATE, "upper"), float("inf"), "upper is not a finite number"),
    "a spread below zero": ((*SLATE, "sd"), -1.0, "a spread cannot be negative"),
    "bounds turned round": ((*SLATE, "lower"), 9.0, "outside its bounds"),
    "bounds far off": ((*SLATE, "upper"), 1e6, "far from every shipped set"),
    "another unit": ((*SLATE, "unit"), "degF", "in another unit (value 'degF'; allowed: degC)"),
    "read as text": ((*SLATE, "read"), "yes", "read is not true or false"),
    "a basis of one's own": ((*SLATE, "basis"), "felt", "unknown basis"),
    "a parameter that is none": (("cultivar", "Slate", "berries"), sound.NUMBER,
                               "unknown parameter"),
    "flowering at will": (("cultivar", "Shale", "flowering"), "often", "the type of flowering"),
    "draws that are no file": (("cultivar", "Slate", "draws"), "no.parquet", "no such file"),
    "draws that are a folder": (("cultivar", "Slate", "draws"), ".", "folder"),
    "draws that are text": (("cultivar", "Slate", "draws"), "own.toml", "Parquet"),
    "a transplant that is none": (("transplant", "plugg"), {}, "did you mean 'plug'?"),
    "transplants in a list": (("transplant",), [1], "the file holds no transplant"),
}  # fmt: skip


@pytest.mark.parametrize("case", CULTIVARS)
def test_a_hostile_cultivar_file(tmp_path, case):
    path, value, piece = CULTIVARS[case]
    place = tmp_path / "own.toml"
    place.write_text(toml_of(put(sound.OWN, path, value)), encoding="utf-8")
    read = read_transplants if path[0] == "transplant" else read_cultivars
    refused(lambda: read(place), piece)


OPTIC = ("film", "white-striped", "solar_reflectance")
FILMS: dict[str, tuple[tuple[Any, ...], Any, str]] = {
    "no film": (("film",), {}, "the file holds no film"),
    "a film that is a list": (("film", "white-striped"), [1], "a table"),
    "films in a list": (("film",), [{"description": "a"}], "the file holds no film"),
    "an optic that is gone": (OPTIC, DROP, "solar_reflectance: this number is required"),
    "an optic without certificate": (OPTIC, 0.5, "without a birth certificate"),
    "an optic of NaN": ((*OPTIC, "value"), NAN, "not a finite number"),
    "an optic in percent": ((*OPTIC, "unit"), "%", "in another unit"),
    "a shoulder that is none": (("film", "white-striped", "shoulder"), "blak", "unknown film"),
    "a striped shoulder": (("film", "white-striped", "shoulder"), "white-striped", "unknown film"),
    "a stripe without width": (("film", "white-striped", "stripe_width"), DROP, "needs both"),
    "a width without shoulder": (("film", "white-striped", "shoulder"), DROP, "needs both"),
}  # fmt: skip


@pytest.mark.parametrize("case", FILMS)
def test_a_hostile_film_file(tmp_path, case):
    path, value, piece = FILMS[case]
    place = tmp_path / "film.toml"
    place.write_text(toml_of(put(sound.film_tree(), path, value)), encoding="utf-8")
    refused(lambda: read_film(place, "mine"), piece)


MANIFESTS: dict[str, tuple[tuple[Any, ...], Any, str]] = {
    "no command": (("command",), DROP, "it names no command"),
    "a command that is a list": (("command",), ["fit"], "command: the wrong kind of value"),
    "a command that is a path": (("command",), "../../os", "cannot be run again"),
    "a command that makes nothing": (("command",), "check", "cannot be run again"),
    "another version": (("schema_version",), 2, "a manifest of another version"),
    "a version that is a text": (("schema_version",), "one", "a manifest of another version"),
    "options in a list": (("options",), [1], "options: the wrong kind of value"),
    "no options": (("options",), None, "options: the wrong kind of value"),
    "an option that is gone": (("options", "seed"), DROP, "options.seed"),
    "a seed as text": (("options", "seed"), "0", "options.seed"),
    "a seed below zero": (("options", "seed"), -1, "options.seed"),
    "a seed without end": (("options", "seed"), 10**17, "options.seed"),
    "a bootstrap of a million": (("options", "bootstrap"), 10**6, "not in the range 0<=x<=2000"),
    "a language that is none": (("options", "language"), "xx", "options.language"),
    "units of a list": (("options", "units"), ["us"], "options.units"),
    "robust of 1": (("options", "robust"), 1, "options.robust"),
    "versions of numbers": (("versions", "numpy"), 2, "versions.numpy: the wrong kind"),
    "versions in a list": (("versions",), ["2.0"], "versions: the wrong kind of value"),
    "inputs in a table": (("inputs",), {"role": "records"}, "inputs: the wrong kind of value"),
    "inputs of texts": (("inputs",), ["picks.csv"], "inputs[0]: the wrong kind of value"),
    "a path that is a number": (("inputs", 0, "path"), 7, "inputs[0].path: the wrong kind"),
    "a path that is gone": (("inputs", 0, "path"), DROP, "inputs[0].path: this key is required"),
    "a path that leads out": (("inputs", 0, "path"), "../../x", "not the name of a file"),
    "an empty path": (("inputs", 0, "path"), "", "not the name of a file"),
    "a zero byte in a path": (("inputs", 0, "path"), "a\x00b", "not the name of a file"),
    "an output that leads out": (("outputs", 0, "path"), "../fit.json", "inside the folder"),
    "an output elsewhere": (("outputs", 0, "path"), "/etc/passwd", "inside the folder"),
    "outputs of null": (("outputs",), None, "outputs: the wrong kind of value"),
    "warnings of a text": (("warnings",), "none", "warnings: the wrong kind of value"),
    "a season in a list": (("season",), [1], "season: the wrong kind of value"),
    "a hash that is a number": (("inputs", 0, "sha256"), 1, "inputs[0].sha256"),
    "no records": (("inputs",), [], "the manifest names no records file"),
}  # fmt: skip


@pytest.mark.parametrize("case", MANIFESTS)
def test_a_hostile_manifest(tmp_path, case):
    path, value, piece = MANIFESTS[case]
    place = sound.write_fit(tmp_path) / "manifest.json"
    tree = put(sound.manifest_tree(place.parent), path, value)
    place.write_text(json.dumps(tree), encoding="utf-8")
    refused(lambda: manifest_of(place), piece)


JSON_TEXTS = {
    "nested lists": ("[" * 100_000, "too deep"),
    "nested tables": ('{"a":' * 100_000, "too deep"),
    "cut off": ('{"command": "fit", ', "cannot be read as JSON: expecting property name"),
    "NaN": ('{"command": NaN}', "not JSON compliant"),
    "a number without end": (f'{{"seed": {ENDLESS}}}', "4300 digits"),
    "1e999": ('{"command": "fit", "seed": 1e999}', "not JSON compliant"),
    "half a character": ('{"command": "\\ud800"}', "surrogates"),
    "a list": ("[]", "it names no command"),
    "a text": ('"fit"', "it names no command"),
    "two documents": ("{}{}", "extra data"),
    "TOML": ("command = 1", "cannot be read as JSON"),
    "nothing": (" ", "the file is empty"),
}


@pytest.mark.parametrize("case", JSON_TEXTS)
def test_a_hostile_json_text(tmp_path, case):
    text, piece = JSON_TEXTS[case]
    place = tmp_path / "manifest.json"
    place.write_text(text, encoding="utf-8")
    refused(lambda: manifest_of(place), piece)


FITS: dict[str, tuple[tuple[Any, ...], Any, str]] = {
    "another version": (("schema_version",), 1, "schema_version"),
    "another command": (("command",), "rank", "command"),
    "no verdict": (("identifiability",), DROP, "identifiability: this key is required"),
    "a verdict of yes": (("identifiability", "rankable"), "yes", "true or false"),
    "reasons of numbers": (("identifiability", "why_not"), [1], "why_not[0]"),
    "cultivars of texts": (("cultivars",), ["Marl"], "cultivars[0]: the wrong kind"),
    "a cultivar without a name": (("cultivars", 0), {}, "cultivars[0].cultivar"),
    "a shift as text": (("seasons", 0, "later_d", "value"), "2", "later_d.value"),
    "a shift of null": (("seasons", 0, "later_d"), None, "later_d"),
    "a spread below zero": (("transplants", 0, "sd"), -1.0, 'transplants[0] "truss_progress".sd'),
    "a value of null": (("transplants", 0, "value"), None, 'transplants[0] "truss_progress".value'),
    "seasons a number": (("records", "seasons"), 2014, "records.seasons"),
    "warnings of null": (("warnings",), None, "warnings: the wrong kind"),
}


@pytest.mark.parametrize("case", FITS)
def test_a_hostile_document_of_a_fit(tmp_path, case):
    path, value, piece = FITS[case]
    fit = sound.write_fit(tmp_path)
    tree = put(sound.fit_document(), path, value)
    (fit / "fit.json").write_text(json.dumps(tree), encoding="utf-8")
    refused(lambda: read_fit(fit), piece)


DRAWS = {
    "no draw column": (lambda t: t.drop(columns="draw"), "a column is missing"),
    "no cultivar column": (lambda t: t.drop(columns="cultivar"), "a column is missing"),
    "texts for numbers": (lambda t: t.assign(heat_sensitivity="hot"), "not a number"),
    "a draw out of bounds": (lambda t: t.assign(heat_sensitivity=99.0), "out of its bounds"),
    "a draw below its bounds": (lambda t: t.assign(heat_sensitivity=-4e-16), "out of its bounds"),
    "a draw that is missing": (
        lambda t: t.assign(heat_sensitivity=t[sound.DRAWN].where(t["draw"] != 3)),
        "a draw is missing",
    ),
    "a parameter that is none": (lambda t: t.assign(colour=1.0), "unknown parameter"),
    "another cultivar": (lambda t: t.replace("Marl", "Basalt"), "no draws of the cultivar"),
    "fewer draws of one": (lambda t: t[:-3], "have not the same draws"),
    "no rows": (lambda t: t[:0], "no rows"),
    "cultivars of numbers": (lambda t: t.assign(cultivar=7), "no draws of the cultivar"),
    "lists for numbers": (lambda t: t.assign(heat_sensitivity=[[1.0]] * len(t)), sound.DRAWN),
}


@pytest.mark.parametrize("case", DRAWS)
def test_hostile_draws_of_a_fit(tmp_path, case):
    change, piece = DRAWS[case]
    fit = sound.write_fit(tmp_path)
    table: pd.DataFrame = change(sound.drawn())
    table.to_parquet(fit / "draws.parquet")
    refused(lambda: read_fit(fit), piece)


def test_a_fit_that_fitted_no_number_is_read_for_what_would_settle_it(tmp_path):
    fit = sound.write_fit(tmp_path)
    tree = put(sound.fit_document(), ("identifiability", "rankable"), False)
    (fit / "fit.json").write_text(json.dumps(tree), encoding="utf-8")
    sound.drawn()[:0].to_parquet(fit / "draws.parquet")
    cultivars = (fit / "cultivars.toml").read_text(encoding="utf-8")
    (fit / "cultivars.toml").write_text(
        cultivars.replace('draws = "draws.parquet"\n', ""), encoding="utf-8"
    )
    found = read_fit(fit)
    assert found.draws == {}
    assert found.document["identifiability"]["records_that_would_settle_it"] == ["weights"]


@pytest.mark.parametrize("gone", ["fit.json", "cultivars.toml", "draws.parquet", "manifest.json"])
def test_a_folder_of_a_fit_that_lacks_a_file(tmp_path, gone):
    fit = sound.write_fit(tmp_path)
    (fit / gone).unlink()
    refused(lambda: read_fit(fit), "not the folder of a fit", f"it lacks {gone}")


@pytest.fixture
def call():
    """Run a command in this process."""
    return lambda *given: CliRunner().invoke(cli, list(given), prog_name="phenocast")


DAYS = ("9999-12-31", "0001-01-01", "1899-12-31", "2101-01-01", "2026-02-30", "20261005", "today")
COMMANDS = {
    "forecast": ["--as-of"],
    "labour": ["--as-of"],
    "crown": ["--json", "--as-of"],
    "compare": ["--plant-to", "2026-10-05", "--plant-from"],
    "compare as of": ["--plant-from", "2026-10-05", "--plant-to", "2026-10-05", "--as-of"],
}


@pytest.mark.parametrize("day", DAYS)
@pytest.mark.parametrize("command", COMMANDS)
def test_a_day_that_no_command_can_work_with(call, command, day):
    done = call(command.split()[0], "season.toml", *COMMANDS[command], day)
    assert done.exit_code == 2
    assert f"'{day}':" in " ".join(done.stderr.split())


@pytest.mark.parametrize("option", ["--planting-cost", "--harvest-cost"])
@pytest.mark.parametrize("amount", ["nan", "inf", "-1", "1e999", "cheap"])
def test_a_cost_that_is_no_amount(call, option, amount):
    done = call("compare", "season.toml", "--plant-from", "2026-10-05", "--plant-to", "2026-10-05",
                option, amount)  # fmt: skip
    assert done.exit_code == 2


@pytest.mark.parametrize("value", ["0", "-3", "many", "1.5", ""])
def test_a_silly_number_of_threads_is_left_out_with_a_message(call, monkeypatch, value):
    monkeypatch.setenv("NUMBA_NUM_THREADS", value)
    done = call("forecast", "no/such.toml")
    assert done.exit_code == 3
    assert f"NUMBA_NUM_THREADS={value} is left out" in done.stderr


def test_the_sound_documents_are_sound(tmp_path):
    assert len(read_season(sound.write_season(tmp_path)).blocks) == 2
    assert set(tomllib.loads(toml_of(sound.season_tree()))) == set(sound.season_tree())
    (tmp_path / "all.toml").write_text(toml_of(sound.OWN), encoding="utf-8")
    assert set(read_cultivars(tmp_path / "all.toml")) == {"Slate", "Shale"}
    assert set(read_transplants(tmp_path / "all.toml")) == {"plug"}
    assert len(read_fit(sound.write_fit(tmp_path)).draws["Marl"][sound.DRAWN]) == 20
