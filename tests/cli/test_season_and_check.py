"""`check` refuses what the commands refuse, and the limit of missing air can be raised as told."""

import pytest

LABOUR = """
[labour]
currency = "EUR"
wage_per_h = 9.5
hours_per_week = 40
crew_most = 40
value_per_tray = 9
"""


def said(done):
    return " ".join(done.stderr.split())


def with_gaps(folder, share):
    """Take the air temperature out of a share of the observed hours, an hour here and there."""
    place = folder / "low_quay_observed.csv"
    lines = place.read_text(encoding="utf-8").splitlines()
    column = lines[0].split(",").index("air_c")
    every = round(1 / share)
    for number in range(1, len(lines), every):
        cells = lines[number].split(",")
        cells[column] = ""
        lines[number] = ",".join(cells)
    place.write_text("\n".join(lines) + "\n", encoding="utf-8")


def test_the_limit_of_missing_air_is_raised_by_the_key_that_the_refusal_names(
    call, season, tmp_path
):
    path = season()
    with_gaps(tmp_path, 1 / 5)
    refused = call("check", path)
    assert refused.exit_code == 4
    assert "raise the limit knowingly: most_missing = 0.25 under [weather]" in said(refused)
    path = season("[weather]", "[weather]\nmost_missing = 0.25")
    with_gaps(tmp_path, 1 / 5)
    done = call("check", path)
    assert done.exit_code == 0, done.stderr
    assert "20% of the air temperature is missing and filled" in " ".join(done.stdout.split())
    refused = call("check", season("[weather]", "[weather]\nmost_missing = 0.6"))
    assert refused.exit_code == 3
    assert "weather.most_missing: out of range (value 0.6; allowed: 0 to 0.5)" in said(refused)


def test_a_weather_file_by_itself_is_refused_where_a_season_would_refuse_it(call, season, tmp_path):
    path = season()
    with_gaps(tmp_path, 1 / 2)
    alone = call("check", tmp_path / "low_quay_observed.csv", "--time-zone", "UTC", "--stamp",
                 "start")  # fmt: skip
    within = call("check", path)
    assert alone.exit_code == within.exit_code == 4
    for done in (alone, within):
        assert "too much of the air temperature is missing" in said(done)
        assert "50% of" in said(done)
    assert "raise the limit" in said(alone)


def test_weather_without_air_is_refused_by_itself(call, tmp_path):
    place = tmp_path / "sun.csv"
    place.write_text("time,solar_w_m2\n2026-10-05T00:00Z,0\n2026-10-05T01:00Z,0\n")
    done = call("check", place, "--stamp", "start")
    assert done.exit_code in (3, 4)
    assert "air" in said(done)


REFUSED = {
    "prices": ('[prices]\ncurrency = "EUR"\nfile = "prices.csv"\n',
               "week,price_per_kg\n2027-W99,3\n", "prices.csv", 3, "2027-W99"),
    "no prices": ('[prices]\ncurrency = "EUR"\nfile = "none.csv"\n', "", "prices.csv", 3,
                  "none.csv: no such file"),
    "tallies": (LABOUR + 'tallies = "tallies.csv"\n',
                "block,date,picker_hours,trays\nWest,2026-12-01,8,40\n", "tallies.csv", 3,
                "did you mean 'East'"),
    "few tallies": (LABOUR + 'tallies = "tallies.csv"\n',
                    "block,date,picker_hours,trays\nEast,2026-12-01,8,40\n", "tallies.csv", 4,
                    "too few picks for a line"),
    "contract": (LABOUR.replace("40\ncrew", "90\ncrew")
                 + "most_hours_per_week = 95\novertime = { longest_week_h = 60 }\n", "", "x.csv", 3,
                 "the contract is longer than the overtime rules allow"),
}  # fmt: skip


@pytest.mark.parametrize("case", REFUSED)
def test_check_refuses_what_labour_and_compare_refuse(call, season, tmp_path, case):
    text, table, name, code, words = REFUSED[case]
    path = season()
    path.write_text(path.read_text(encoding="utf-8") + text, encoding="utf-8")
    (tmp_path / name).write_text(table, encoding="utf-8")
    done = call("check", path)
    assert done.exit_code == code, done.stderr
    assert words in said(done)
    command = ["labour", path] if "labour" in text else [
        "compare", path, "--plant-from", "2026-09-28", "--plant-to", "2026-09-28", "--draws", "1",
    ]  # fmt: skip
    there = call(*command)
    assert there.exit_code == code
    assert words in said(there)


def test_a_sound_plan_passes_the_check(call, season):
    path = season()
    path.write_text(path.read_text(encoding="utf-8") + LABOUR, encoding="utf-8")
    assert call("check", path).exit_code == 0


def test_check_makes_every_block_ready(call, season, tmp_path):
    path = season('cultivar = "Marl"', 'cultivar = "Slate"')
    text = path.read_text(encoding="utf-8")
    path.write_text(f'cultivar_file = "own.toml"\n{text}', encoding="utf-8")
    (tmp_path / "own.toml").write_text(
        '[cultivar.Slate]\nlike = "Marl"\n[cultivar.Slate.development_ceiling]\nvalue = 20.0\n'
        'unit = "degC"\nlower = 20.0\nupper = 20.0\nsd = 0.0\nbasis = "assumed"\nconditions = ""\n'
        'source = "own"\nwhere = ""\nread = true\n', encoding="utf-8",
    )  # fmt: skip
    done = call("check", path)
    assert done.exit_code == 3
    assert "give the temperatures in rising order" in said(done)
