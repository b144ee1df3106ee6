"""Check tells what was understood, and every fault with its row."""

import json

import pytest

from phenocast.parameters.library import shipped

DEMO = shipped("demo_weather")


def test_a_season_is_told_with_its_blocks_weather_and_forecast(call):
    done = call("check", DEMO / "low_quay.toml")
    assert done.exit_code == 0
    assert done.stderr == ""
    for word in ("Quay West", "metallised-striped", "1464 rows", "no row missing", "8 members"):
        assert word in " ".join(done.stdout.split())
    assert "as of 2026-10-31" in done.stdout
    assert max(len(line) for line in done.stdout.splitlines()) <= 100


def test_columns_units_gaps_fillings_and_doubtful_rows_of_a_logger(call):
    done = call("check", DEMO / "logger_check.toml", "--json")
    assert done.exit_code == 0
    (answer,) = json.loads(done.stdout)["files"]
    (logger,) = answer["understood"]["weather"]["observed"]
    by_quantity = {column["quantity"]: column for column in logger["columns"]}
    assert by_quantity["air_c"]["header"] == "'Air temp' in degF"
    assert by_quantity["wind_m_s"]["header"] == "'Wind' in mph"
    assert by_quantity["rain_mm"]["header"] == "'Rain' in in"
    # demo_weather/README.md: four rows never arrived, three in a run; 2 blank air, 12 h no power
    assert (logger["rows_missing"], logger["longest_gap_rows"]) == (4, 3)
    assert by_quantity["air_c"]["missing"] == 2 + 12
    assert by_quantity["solar_w_m2"]["missing"] == 3 + 12
    assert logger["first_utc"] == "2026-10-04T00:00"
    # 122 degF is taken out and its row is named
    assert by_quantity["air_c"]["removed"] == 1
    (spike,) = logger["findings"]
    assert (spike["quantity"], spike["what"]) == ("air_c", "a lone spike")
    assert spike["places"] == [{"row": 450, "value": 50.0}]
    assert logger["findings_not_listed"] == 0
    assert "a lone spike (allowed: steps up to 15 degC); row 450 (50)" in " ".join(
        call("check", DEMO / "logger_check.toml").stdout.split()
    )
    assert logger["hours"] == 28 * 24
    # every hour without air: 4 rows that never came, 14 blank, 1 taken out
    air = [hours for name, hours in logger["filled_hours"].items() if name.startswith("air ")]
    assert sum(air) == 4 + 14 + 1


def test_one_json_document_with_a_schema_version(call):
    done = call("check", DEMO / "low_quay_outlook.csv", DEMO / "san_francisco.toml", "--json")
    document = json.loads(done.stdout)
    assert document["schema_version"] == 1
    assert [answer["kind"] for answer in document["files"]] == ["weather", "season"]


def test_a_weather_file_that_names_its_place_tells_what_is_filled(call):
    done = call("check", DEMO / "san_francisco_tmy3.epw", "--json")
    (answer,) = json.loads(done.stdout)["files"]
    understood = answer["understood"]
    assert understood["typical_year"]
    assert understood["wind_height_m"] == 10.0
    # end-of-hour stamps of UTC-8: the first hour begins at 08 UTC
    assert understood["first_utc"].endswith("-01-01T08:00")
    assert understood["hours"] == 8760
    assert understood["columns"][0]["header"] is None
    assert "fixed by the format" in call("check", DEMO / "san_francisco_tmy3.epw").stdout


def test_the_clock_of_a_weather_file_can_be_stated(call, tmp_path):
    file = tmp_path / "a.csv"
    rows = [f"2026-01-05 {hour:02d}:00,{10 + hour}" for hour in range(24)]
    file.write_text("when,air [degC]\n" + "\n".join(rows) + "\n", encoding="utf-8")
    done = call(
        "check", file, "--time-zone", "America/New_York", "--stamp", "end", "--json"
    )  # fmt: skip
    (answer,) = json.loads(done.stdout)["files"]
    assert answer["understood"]["first_utc"] == "2026-01-05T04:00"


def test_a_weather_file_by_itself_is_told_where_its_clock_is_stated(call):
    done = call("check", DEMO / "low_quay_logger.csv")
    assert done.exit_code == 3
    told = " ".join(done.stderr.split())
    assert "'Logged at': the clock of the stamps is not stated" in told
    assert "under [weather] of the season file" in told
    assert "--time-zone" in told


def test_many_doubtful_values_take_one_line_and_all_are_counted(call):
    arguments = ("check", DEMO / "san_francisco_tmy3.epw")
    (answer,) = json.loads(call(*arguments, "--json").stdout)["files"]
    understood = answer["understood"]
    listed = sum(len(finding["places"]) for finding in understood["findings"])
    counted = sum(column["suspect"] + column["removed"] for column in understood["columns"])
    assert listed + understood["findings_not_listed"] == counted > listed
    page = call(*arguments).stdout
    assert page.count("a step larger than usual over 1 h") == 1
    assert f"{counted - listed} more values removed or doubtful" in page


def test_one_bad_file_among_good_ones_is_told_and_the_rest_is_shown(call, tmp_path):
    bad = tmp_path / "bad.csv"
    bad.write_text("time_utc,air [degC]\n2026-10-05T00:00,12\n2026-10-05T01:00,hot\n")
    good = DEMO / "low_quay_observed.csv"
    done = call("check", bad, good)
    assert done.exit_code == 3
    told = " ".join(done.stdout.split())
    assert "bad.csv: weather file, REFUSED (1 fault)" in told
    assert "low_quay_observed.csv: weather file, understood" in told
    assert "bad.csv, row 3" in " ".join(done.stderr.split())
    assert "'hot'" in done.stderr
    as_json = call("check", bad, good, "--json")
    assert as_json.exit_code == 3
    documents = json.loads(as_json.stdout)
    assert [len(answer["faults"]) for answer in documents["files"]] == [1, 0]


def test_what_was_understood_before_a_fault_stays(call, season):
    done = call("check", season("low_quay_observed.csv", "no_such.csv"))
    assert done.exit_code == 3
    assert "Home Field" in done.stdout
    assert "REFUSED" in done.stdout
    assert "no such file" in " ".join(done.stderr.split())


def test_weather_that_ends_before_the_season_is_no_answer(call, season):
    history = 'history = { file = "tamarind_coast.parquet", time_zone = "UTC", stamp = "start"'
    done = call("check", season(history + ", wind_height_m = 2 }", ""))
    assert done.exit_code == 4
    assert "history" in done.stderr


def test_too_many_gaps_is_code_4(call, tmp_path, season):
    path = season()
    observed = tmp_path / "low_quay_observed.csv"
    lines = observed.read_text(encoding="utf-8").splitlines()
    kept = [line for number, line in enumerate(lines) if number == 0 or number % 24 not in range(8)]
    observed.write_text("\n".join(kept) + "\n", encoding="utf-8")
    done = call("check", path)
    assert done.exit_code == 4
    assert "low_quay_observed.csv" in done.stderr


@pytest.mark.parametrize("name", ["x.toml", "x.csv"])
def test_a_file_that_is_not_there(call, name):
    done = call("check", name)
    assert done.exit_code == 3
    assert f"{name}: no such file" in " ".join(done.stderr.split())


def test_a_long_list_of_faults_is_cut_and_counted_everywhere(tmp_path, call):
    (tmp_path / "season.toml").write_text("".join(f"[odd{number}]\n" for number in range(60)))
    told = call("check", tmp_path / "season.toml", "--json")
    answer = json.loads(told.stdout)["files"][0]
    assert len(answer["faults"]) == 21
    assert answer["fault_count"] >= 60
    assert answer["faults"][-1] == f"and {answer['fault_count'] - 20} more"
    assert f"{answer['fault_count']} faults:" in " ".join(told.stderr.split())
    assert f"and {answer['fault_count'] - 20} more" in " ".join(told.stderr.split())
    shown = call("check", tmp_path / "season.toml").stdout
    assert f"REFUSED ({answer['fault_count']} faults)" in " ".join(shown.split())
