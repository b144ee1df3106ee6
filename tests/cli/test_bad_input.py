"""Bad input: one clear message, the right code, nothing written, nothing lost."""

import os

import pytest

CASES = {
    "unknown film": ('film = "black"', 'film = "blak"', 3,
                     ['block[0] "East".film', "did you mean 'black'"]),
    "unknown cultivar": ('"Marl"', '"Marle"', 3,
                         ['block[0] "East".cultivar', "did you mean 'Marl'"]),
    "unknown soil": ('"sandy loam"', '"sandy lome"', 3, ["bed.soil", "'sandy loam'"]),
    "unknown key": ("area_ha", "area_hectare", 3, ["area_hectare", "area_ha"]),
    "zero plants": ("50_000", "0", 3, ["plants_per_ha", "0"]),
    "negative area": ("area_ha = 1.2", "area_ha = -1.2", 3, ["area_ha", "-1.2"]),
    "polar latitude": ("29.3", "78.2", 3, ["latitude", "78.2", "polar"]),
    "unknown zone": ('time_zone = "Atlantic/Canary"', 'time_zone = "Atlantic/Canry"', 3,
                     ["time_zone", "Atlantic/Canary"]),
    "planted before the weather": ("2026-09-28", "2026-08-15", 3,
                                   ["2026-08-15", "begins", "2026-09-01"]),
    "not TOML": ("latitude = 29.3", "latitude = 29,3", 3, ["season.toml, row 4", "29,3"]),
    "missing weather file": ("low_quay_observed", "low_quay_obsrved", 3, ["no such file"]),
    "no block": ("[[block]]", "[block]", 3, ["block"]),
    "day-first date": ("2026-09-28", '"28/09/2026"', 3, ["planting_date", "28/09/2026"]),
}  # fmt: skip


@pytest.mark.parametrize("command", ["forecast", "crown"])
@pytest.mark.parametrize("case", CASES)
def test_a_bad_season_is_refused_with_its_place(call, season, tmp_path, entries, case, command):
    old, new, code, words = CASES[case]
    path = season(old, new)
    before = entries(tmp_path)
    out = tmp_path / ("out" if command == "forecast" else "out.csv")
    done = call(command, path, "--out", out)
    told = " ".join(done.stderr.split())
    assert done.exit_code == code, told
    for word in words:
        assert word in told
    assert done.stdout == ""
    assert "Traceback" not in told
    assert entries(tmp_path) == before


def test_every_fault_of_a_season_is_told_at_once(call, season):
    path = season('film = "black"', 'film = "blak"')
    text = path.read_text(encoding="utf-8").replace("50_000", "0").replace("1.2", "-1")
    path.write_text(text, encoding="utf-8")
    told = call("forecast", path).stderr
    assert "3 faults" in told
    for word in ("film", "plants_per_ha", "area_ha"):
        assert word in told


def spoil_units(lines):
    return [lines[0].replace("air_c", "air"), *lines[1:]]


def spoil_value(lines):
    cells = lines[100].split(",")
    cells[lines[0].split(",").index("air_c")] = "99.0"
    return [*lines[:100], ",".join(cells), *lines[101:]]


def spoil_dates(lines):
    # as a spreadsheet of another country writes them: 09/10/2026 may be October or September
    days = [line.replace("T", " ").split(",", 1) for line in lines[1:]]
    head = days[0][0]
    assert head[:4] == "2026"
    turned = [f"{one[8:10]}/{one[5:7]}/{one[:4]}{one[10:]},{rest}" for one, rest in days]
    return [lines[0], *[line for line in turned if line[:2] <= "12"]]


def spoil_stamps(lines):
    return [*lines[:50], lines[49], *lines[50:]]


def spoil_order(lines):
    return [lines[0], *lines[200:300], *lines[1:200], *lines[300:]]


def spoil_column(lines):
    place = lines[0].split(",").index("solar_w_m2")
    cells = [line.split(",") for line in lines[1:]]
    for row in cells:
        row[place] = ""
    return [lines[0], *[",".join(row) for row in cells]]


def spoil_end(lines):
    return lines[: 24 * 20]


WEATHER = {
    "unit missing": (spoil_units, 3, ["unit", "degC"]),
    "impossible air": (spoil_value, 3, ["row 101", "99", "air"]),
    "day-first dates": (spoil_dates, 3, ["low_quay_observed.csv", "time"]),
    "duplicate stamps": (spoil_stamps, 3, ["row 51"]),
    "unsorted stamps": (spoil_order, 3, ["low_quay_observed.csv", "row"]),
    "all-missing column": (spoil_column, 3, ["solar_w_m2", "no value at all"]),
}


@pytest.mark.parametrize("case", WEATHER)
def test_bad_weather_is_refused_with_its_row(call, season, tmp_path, entries, case):
    spoil, code, words = WEATHER[case]
    path = season()
    file = tmp_path / "low_quay_observed.csv"
    lines = file.read_text(encoding="utf-8").splitlines()
    file.write_text("\n".join(spoil(lines)) + "\n", encoding="utf-8")
    before = entries(tmp_path)
    done = call("forecast", path, "--draws", "2", "--out", tmp_path / "out")
    told = " ".join(done.stderr.split())
    assert done.exit_code == code, told
    for word in words:
        assert word in told
    assert entries(tmp_path) == before


def test_weather_that_ends_before_planting_without_past_years(call, season, tmp_path, entries):
    history = 'history = { file = "tamarind_coast.parquet", time_zone = "UTC", stamp = "start"'
    path = season(history + ", wind_height_m = 2 }", "")
    file = tmp_path / "low_quay_observed.csv"
    lines = file.read_text(encoding="utf-8").splitlines()
    file.write_text("\n".join(spoil_end(lines)) + "\n", encoding="utf-8")
    before = entries(tmp_path)
    done = call("forecast", path, "--out", tmp_path / "out")
    assert done.exit_code == 3
    assert "ends before the planting date" in " ".join(done.stderr.split())
    assert entries(tmp_path) == before


def test_weather_that_ends_within_the_season_without_past_years_is_no_answer(call, season):
    history = 'history = { file = "tamarind_coast.parquet", time_zone = "UTC", stamp = "start"'
    done = call("forecast", season(history + ", wind_height_m = 2 }", ""))
    assert done.exit_code == 4
    assert "history" in done.stderr


def test_a_minimum_above_the_maximum(call, tmp_path):
    file = tmp_path / "days.csv"
    file.write_text(
        "date,air max [degC],air min [degC]\n"
        "2026-10-01,25,15\n2026-10-02,12,22\n2026-10-03,25,15\n",
        encoding="utf-8",
    )
    done = call("check", file)
    assert done.exit_code == 3
    assert "row 3" in " ".join(done.stderr.split())
    assert "22 above 12 degC" in " ".join(done.stderr.split())


def test_a_truncated_parquet(call, season, tmp_path):
    path = season()
    file = tmp_path / "tamarind_coast.parquet"
    file.write_bytes(file.read_bytes()[:300_000])
    done = call("forecast", path)
    assert done.exit_code == 3
    assert "tamarind_coast.parquet" in done.stderr


def test_utf_16_is_read_as_what_it_is(call, season, tmp_path):
    path = season()
    path.write_text(path.read_text(encoding="utf-8"), encoding="utf-16")
    file = tmp_path / "low_quay_observed.csv"
    file.write_text(file.read_text(encoding="utf-8"), encoding="utf-16")
    assert call("check", path).exit_code == 0


@pytest.mark.parametrize("command", ["forecast", "check", "rerun", "crown"])
def test_a_folder_for_a_file(call, tmp_path, command):
    arguments = {"rerun": ["--out", tmp_path / "o"], "crown": ["--out", tmp_path / "o.csv"]}
    done = call(command, tmp_path, *arguments.get(command, []))
    assert done.exit_code == 3
    assert "Traceback" not in done.stderr


OUTPUTS = {
    "forecast": ("--out", "taken"),
    "crown": ("--out", "taken.csv"),
    "demo": ("--out", "taken"),
}


def arguments_of(command, path):
    return [command] if command == "demo" else [command, path]


@pytest.mark.parametrize("command", OUTPUTS)
def test_an_output_that_exists_is_kept_and_found_before_the_work(
    call, season, tmp_path, entries, command, monkeypatch
):
    option, name = OUTPUTS[command]
    taken = tmp_path / name
    if command == "crown":
        taken.write_text("mine", encoding="utf-8")
    else:
        taken.mkdir()
        (taken / "notes.txt").write_text("mine", encoding="utf-8")
    path = season()
    before = entries(tmp_path)
    # nothing is read or simulated for an output that will not be written
    monkeypatch.setattr("phenocast.cli.running.load", lambda path: pytest.fail("worked in vain"))
    for force in ([], ["--force"]) if command != "crown" else ([],):
        done = call(*arguments_of(command, path), option, taken, *force)
        assert done.exit_code == 3
        assert "taken" in done.stderr
        assert entries(tmp_path) == before
    kept = taken if command == "crown" else taken / "notes.txt"
    assert kept.read_text(encoding="utf-8") == "mine"


@pytest.mark.parametrize("command", OUTPUTS)
def test_an_output_below_a_file_cannot_be_written(call, season, tmp_path, entries, command):
    option, name = OUTPUTS[command]
    (tmp_path / "file").write_text("mine", encoding="utf-8")
    path = season()
    before = entries(tmp_path)
    extra = [] if command == "crown" else ["--draws", "1"]
    done = call(*arguments_of(command, path), option, tmp_path / "file" / name, *extra)
    assert done.exit_code == 3
    assert "file" in done.stderr
    assert "Traceback" not in done.stderr
    assert entries(tmp_path) == before


@pytest.mark.skipif(os.name == "nt" or os.geteuid() == 0, reason="root may write everywhere")
def test_a_folder_without_permission(call, season, tmp_path):
    closed = tmp_path / "closed"
    closed.mkdir()
    path = season()
    closed.chmod(0o500)
    try:
        done = call("forecast", path, "--draws", "1", "--out", closed / "out")
    finally:
        closed.chmod(0o700)
    assert done.exit_code == 3
    assert "permission" in done.stderr


def test_a_failure_of_ours_half_way_leaves_nothing(call, season, tmp_path, entries, monkeypatch):
    def fail(*_arguments, **_options):
        raise RuntimeError("half way")

    path = season()
    before = entries(tmp_path)
    monkeypatch.setattr("phenocast.report.render.to_text", fail)
    done = call("forecast", path, "--draws", "1", "--out", tmp_path / "out")
    assert done.exit_code == 1
    assert "half way" in " ".join(done.stderr.split())
    assert entries(tmp_path) == before


@pytest.mark.parametrize("name", ["<script>alert(1)</script>", "الحقل", "🍓 field", "x" * 300,
                                  'a \\"quoted\\" name', "tab\\tand\\u001b[31m"])  # fmt: skip
def test_odd_names_come_out_as_text(call, season, name):
    done = call("forecast", season('"East"', f'"{name}"'), "--draws", "1")
    if done.exit_code == 3:  # a season may refuse a name, but says so
        assert "name" in done.stderr
        return
    assert done.exit_code == 0
    assert "\x1b" not in done.stdout
    assert "\t" not in done.stdout


@pytest.mark.parametrize("command", ["forecast", "crown", "labour"])
def test_a_weather_file_where_the_season_file_should_be(call, season, tmp_path, command):
    season()
    out = {"forecast": [], "crown": ["--out", tmp_path / "out.csv"], "labour": []}[command]
    for name in ("low_quay_observed.csv", "tamarind_coast.parquet"):
        done = call(command, tmp_path / name, *out)
        told = " ".join(done.stderr.split())
        assert done.exit_code == 3
        assert f"{name}: not a season file" in told
        assert "under [weather]" in told
    assert not (tmp_path / "out.csv").exists()
