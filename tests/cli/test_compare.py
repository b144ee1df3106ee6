"""``phenocast compare`` on the demo, through the command line."""

import json
import re
from datetime import date
from itertools import pairwise
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from phenocast.cli.group import cli
from phenocast.parameters import shipped
from tests.cli.conftest import ONE_BLOCK

SEASON = str(shipped("demo_weather", "low_quay.toml"))
DATES = ("--plant-from", "2026-09-20", "--plant-to", "2026-10-10", "--every", "10")


def run(*arguments: str) -> Result:
    return CliRunner().invoke(cli, ["compare", SEASON, *arguments])


@pytest.fixture(scope="module")
def document() -> dict:
    result = run(
        *DATES, "--films", "black,metallised-striped", "--cultivars", "Marl,Gneiss", "--draws", "6",
        "--json",
    )  # fmt: skip
    assert result.exit_code == 0, result.output
    return json.loads(result.stdout)


def test_one_document_with_every_option(document: dict) -> None:
    assert document["kind"] == "compare"
    assert document["schema_version"] == 2
    assert len(document["options"]) == 3 * 2 * 2
    best = max(
        (one for one in document["options"] if not one["flags"]), key=lambda one: one["expected"]
    )
    assert {k: best[k] for k in document["best"]} == document["best"]
    assert document["biases"] == ["early_planting", "film"]
    for one in document["options"]:
        assert one["margin"]["p10"] <= one["margin"]["p50"] <= one["margin"]["p90"]
        assert one["margin"]["mean"] == pytest.approx(one["expected"], abs=0.51)
        assert one["revenue"]["mean"] - one["cost"] == pytest.approx(one["expected"], abs=0.52)
        assert one["regret"] >= 0.0
        told = one["difference_to_best"]
        assert one["not_clearly_worse"] == (told["high_95"] >= 0.0)
        assert one["early_g_per_plant"]["p50"] <= one["season_g_per_plant"]["p50"]


def test_every_tilt_of_the_prices_is_told_and_none_is_the_comparison_itself(document: dict) -> None:
    tilts = [one["tilt"] for one in document["price_tilt"]["tilts"]]
    level = tilts.index(0.0)
    assert document["price_tilt"]["tilts"][level]["best"] == document["best"]
    for one in document["options"]:
        told = one["tilted"]
        assert [row["tilt"] for row in told] == tilts
        assert {name: one[name] for name in told[level] if name != "tilt"} == {
            name: value for name, value in told[level].items() if name != "tilt"
        }
        # A mean is a straight line of the tilt; a cent of rounding at either end.
        means = [row["expected"] for row in told]
        steps = [after - before for before, after in pairwise(means)]
        assert max(steps) - min(steps) < 0.03


def test_the_film_keeps_heat_from_the_crown_and_earlier_plantings_get_more(document: dict) -> None:
    heat = {
        (o["planting_date"], o["film"]): o["crown_degree_hours_above_30c"]["p50"]
        for o in document["options"]
    }
    for day in ("2026-09-20", "2026-09-30", "2026-10-10"):
        assert heat[day, "metallised-striped"] < 0.6 * heat[day, "black"]
    assert heat["2026-09-20", "black"] > heat["2026-10-10", "black"]


def test_reflective_film_gains_most_early_and_in_the_tender_cultivar(document: dict) -> None:
    # Common practice, no source: the earliest plantings and heat-sensitive cultivars gain most.
    early = {
        (o["planting_date"], o["film"], o["cultivar"]): o["early_g_per_plant"]["p50"]
        for o in document["options"]
    }

    def gain(day: str, cultivar: str) -> float:
        return early[day, "metallised-striped", cultivar] / early[day, "black", cultivar] - 1.0

    assert gain("2026-09-20", "Marl") > gain("2026-09-20", "Gneiss") > 0.0
    assert gain("2026-09-20", "Marl") > gain("2026-10-10", "Marl")


def test_cautions_come_with_the_film(document: dict) -> None:
    told = " ".join(document["cautions"]["metallised-striped"])
    assert "pH" in told
    assert "cooler in winter" in told


def test_a_costly_film_loses_its_place(document: dict) -> None:
    free = run(*DATES, "--films", "black,silver", "--draws", "4", "--json")
    dear = run(
        *DATES, "--films", "black,silver", "--draws", "4", "--film-cost", "silver=9e5", "--json"
    )
    films = [json.loads(result.stdout)["best"]["film"] for result in (free, dear)]
    assert films == ["silver", "black"]


def test_the_page_is_plain_and_narrow() -> None:
    result = run(*DATES, "--films", "black,silver", "--draws", "4")
    assert result.exit_code == 0
    assert max(map(len, result.stdout.splitlines())) <= 100
    assert "Cautions" in result.stdout
    assert "not validated with field data" in " ".join(result.stdout.split())


@pytest.mark.parametrize(
    ("arguments", "code", "words"),
    [
        ((*DATES, "--films", "blak"), 3, "did you mean 'black'"),
        ((*DATES, "--cultivars", "Basult"), 3, "Basalt"),
        ((*DATES, "--block", "Quay Est"), 3, "Quay East"),
        (("--plant-from", "2026-10-10", "--plant-to", "2026-10-01"), 2, "lies before"),
        ((*DATES, "--films", ","), 2, "empty"),
        ((*DATES, "--film-cost", "black"), 2, "NAME=AMOUNT"),
        ((*DATES, "--film-cost", "blak=3"), 3, "black"),
        ((*DATES, "--film-cost", "=3"), 2, "NAME=AMOUNT"),
        ((*DATES, "--transplant-cost", "plug=cheap"), 2, "such as plug=0.25"),
        ((*DATES, "--transplant-cost", "plugs=0.3"), 3, "did you mean 'plug'"),
        ((*DATES, "--harvest-cost", "-1"), 2, "-1"),
        (("--plant-from", "2020-01-01", "--plant-to", "2036-01-01", "--every", "1"), 3, "options"),
        (("--plant-from", "2026-09-20", "--plant-to", "2027-12-01", "--every", "60"), 3, "ends"),
    ],
)
def test_a_mistake_is_told(arguments: tuple[str, ...], code: int, words: str) -> None:
    result = run(*arguments)
    assert result.exit_code == code, result.output
    assert words in " ".join(result.output.split())
    assert "Traceback" not in result.output


def test_a_season_without_prices_is_judged_by_its_fruit(tmp_path: Path) -> None:
    (tmp_path / "season.toml").write_text(ONE_BLOCK)
    for name in ("tamarind_coast.parquet", "low_quay_observed.csv"):
        (tmp_path / name).write_bytes((Path(SEASON).parent / name).read_bytes())
    result = CliRunner().invoke(
        cli, ["compare", str(tmp_path / "season.toml"), *DATES, "--draws", "4", "--json"]
    )
    assert result.exit_code == 0, result.output
    told = json.loads(result.stdout)
    assert told["currency"] is None
    assert "margin" not in told["options"][0]
    assert any("no prices" in warning for warning in told["warnings"])


def one_block(tmp_path: Path, more: str = "") -> str:
    (tmp_path / "season.toml").write_text(ONE_BLOCK + more)
    for name in ("tamarind_coast.parquet", "low_quay_observed.csv"):
        (tmp_path / name).write_bytes((Path(SEASON).parent / name).read_bytes())
    return str(tmp_path / "season.toml")


def told_by(season: str, *arguments: str) -> dict:
    result = CliRunner().invoke(cli, ["compare", season, *arguments, "--draws", "6", "--json"])
    assert result.exit_code == 0, result.output
    return json.loads(result.stdout)


ONE_DAY = ("--plant-from", "2026-09-28", "--plant-to", "2026-09-28")
PRICES = """
[prices]
currency = "EUR"
per_kg = 3.2
"""


def test_the_nursery_makes_the_transplants_of_an_option_too(tmp_path: Path) -> None:
    # A nursery as hot as the field forms no trusses: first pick comes much later than assumed.
    nursery = """
[nursery]
latitude = 29.3
longitude = -15.6
elevation_m = 35
time_zone = "Atlantic/Canary"
from = 2025-08-10
to = 2025-09-20
weather = { file = "tamarind_coast.parquet", time_zone = "UTC", stamp = "start", wind_height_m = 2 }
"""
    (tmp_path / "a").mkdir()
    (tmp_path / "b").mkdir()
    assumed = told_by(one_block(tmp_path / "a"), *ONE_DAY)
    grown = told_by(one_block(tmp_path / "b", nursery), *ONE_DAY)
    dates = [d["options"][0]["first_pick"]["median"] for d in (assumed, grown)]
    assert dates[1] > dates[0]
    forecast = CliRunner().invoke(
        cli,
        ["forecast", str(tmp_path / "b" / "season.toml"), "--as-of", "2026-09-27", "--draws", "6",
         "--json"],
    )  # fmt: skip
    alone = json.loads(forecast.stdout)["blocks"][0]["first_pick"]["median"]
    gap = date.fromisoformat(dates[1]) - date.fromisoformat(alone)
    assert abs(gap.days) <= 3  # the two commands share the nursery, not the physics draws


def test_a_price_that_falls_with_the_supply_changes_the_money(tmp_path: Path) -> None:
    margins = []
    for number, share in enumerate(("0.0", "-0.8")):
        folder = tmp_path / str(number)
        folder.mkdir()
        season = one_block(folder, PRICES + f"supply_correlation = {share}\n")
        margins.append(told_by(season, *ONE_DAY)["options"][0]["margin"])
    spread = [m["p90"] - m["p10"] for m in margins]
    assert margins[0] != margins[1]
    assert spread[1] < spread[0]  # low prices meet much fruit, so they partly cancel


def test_a_price_file_is_read_before_the_long_work_and_its_gaps_are_told(tmp_path: Path) -> None:
    season = one_block(tmp_path, '\n[prices]\ncurrency = "EUR"\nfile = "prices.csv"\n')
    weeks = [f"2026-W{w}" for w in range(40, 54)] + [f"2027-W{w:02d}" for w in range(1, 30)]

    def run_with(kept: list[str], more: str = "") -> Result:
        rows = "".join(f"{week},3.0{more and ',' + more}\n" for week in kept)
        header = "week,price_per_kg" + (",currency" if more else "")
        (tmp_path / "prices.csv").write_text(f"{header}\n{rows}")
        return CliRunner().invoke(cli, ["compare", season, *ONE_DAY, "--draws", "2"])

    assert run_with(weeks).exit_code == 0
    gap = run_with([w for w in weeks if w not in ("2027-W03", "2027-W09")])
    assert gap.exit_code == 3
    assert "weeks are missing (value '2027-W03, 2027-W09')" in " ".join(gap.output.split())
    assert "running" not in gap.output
    short = run_with(weeks[:20])
    told = " ".join(short.output.split())
    assert short.exit_code == 3
    assert re.search(r"prices.csv: no price for \d+ weeks in which fruit is possible", told)
    assert "2027-W07 to 2027-W" in told
    mixed = run_with(weeks, "USD")
    assert "in more than one currency (value 'EUR, USD'" in " ".join(mixed.output.split())
    (tmp_path / "prices.csv").write_text("week,price_per_kg\n2026-50,3.0\n")
    unlike = CliRunner().invoke(cli, ["compare", season, *ONE_DAY])
    assert "allowed: such as 2027-W03" in " ".join(unlike.output.split())


def test_costs_without_prices_are_refused_not_dropped(tmp_path: Path) -> None:
    result = CliRunner().invoke(
        cli,
        ["compare", one_block(tmp_path), *ONE_DAY, "--draws", "2", "--film-cost", "black=900"],
    )
    assert result.exit_code == 3
    assert "no prices" in result.output


COSTS = """
[costs]
currency = "EUR"
film_per_ha = { black = 1000 }
transplant_each = { bare-root = 0.1 }
planting_per_ha = 2000
harvest_per_kg = 0.5
"""


def test_costs_of_the_season_file_are_taken_off(tmp_path: Path) -> None:
    (tmp_path / "a").mkdir()
    (tmp_path / "b").mkdir()
    free = told_by(one_block(tmp_path / "a", PRICES), *ONE_DAY)["options"][0]
    told = told_by(one_block(tmp_path / "b", PRICES + COSTS), *ONE_DAY)
    paid = told["options"][0]
    # 1.2 ha of 50 000 plants each
    parts = paid["cost_parts"]
    assert (parts["film"], parts["transplants"], parts["planting"]) == (1200.0, 6000.0, 2400.0)
    assert paid["revenue"] == free["revenue"]
    assert paid["cost"] == pytest.approx(9600.0 + parts["harvest_mean"])
    assert free["expected"] - paid["expected"] == pytest.approx(paid["cost"], abs=0.1)
    kg = 60.0 * paid["season_g_per_plant"]["p50"]  # 60 000 plants, 1000 g a kg
    assert parts["harvest_mean"] == pytest.approx(0.5 * kg, rel=0.25)
    assert not any("count as zero" in text for text in told["warnings"])


def test_the_command_line_goes_before_the_costs_of_the_file(tmp_path: Path) -> None:
    season = one_block(tmp_path, PRICES + COSTS)
    told = told_by(
        season, *ONE_DAY, "--films", "black,silver", "--film-cost", "black=0",
        "--transplant-cost", "bare-root=0.2", "--planting-cost", "0", "--harvest-cost", "0.25",
    )  # fmt: skip
    assert told["costs"]["film_per_ha"] == {"black": 0.0}
    first = told["options"][0]["cost_parts"]
    assert (first["film"], first["transplants"], first["planting"]) == (0.0, 12000.0, 0.0)
    zero = next(text for text in told["warnings"] if "count as zero" in text)
    assert zero.endswith("film silver, planting")


def test_costs_of_the_file_without_prices_are_said_to_be_left_out(tmp_path: Path) -> None:
    told = told_by(one_block(tmp_path, COSTS), *ONE_DAY)
    assert told["costs"] is None
    assert any("the costs are left out" in text for text in told["warnings"])


def test_costs_in_another_currency_are_refused(tmp_path: Path) -> None:
    season = one_block(tmp_path, PRICES + COSTS.replace("EUR", "USD"))
    done = CliRunner().invoke(cli, ["compare", season, *ONE_DAY])
    assert done.exit_code == 3
    assert "costs and prices are in different currencies" in done.output


def test_weather_observed_from_shortly_before_planting_is_used(tmp_path: Path) -> None:
    # The demo's observations begin on 1 September, less than the spin-up before this planting.
    result = told_by(
        one_block(tmp_path), "--plant-from", "2026-09-03", "--plant-to", "2026-09-03",
        "--as-of", "2026-10-05",
    )  # fmt: skip
    assert not any("is not used" in text for text in result["warnings"])


def test_the_reference_is_the_block_as_it_is_stated(document: dict) -> None:
    told = told_by(SEASON, "--plant-from", "2026-09-15", "--plant-to", "2026-10-05")
    assert told["reference"]["planting_date"] == "2026-09-15"  # 25 September is not on this grid
    told = told_by(SEASON, "--plant-from", "2026-09-15", "--plant-to", "2026-10-05", "--every", "5")
    assert told["reference"]["planting_date"] == "2026-09-25"


def changed_block(tmp_path: Path, more: str, old: str = "", new: str = "") -> str:
    season = Path(one_block(tmp_path))
    text = season.read_text().replace(old, new) if old else season.read_text()
    season.write_text(text + more)
    return str(season)


def test_what_belongs_to_one_planting_is_said_to_be_passed_over(tmp_path: Path) -> None:
    more = """film_laid = 2026-08-15
cover = [{ date = 2026-10-20, cover = 0.15 }, { date = 2026-11-20, cover = 0.5 }]
"""
    (tmp_path / "a").mkdir()
    (tmp_path / "b").mkdir()
    stated = told_by(changed_block(tmp_path / "a", more), *ONE_DAY)
    silent = told_by(one_block(tmp_path / "b"), *ONE_DAY)
    assert stated["options"] == silent["options"]  # they really are passed over
    told = [text for text in stated["warnings"] if "is not used" in text]
    assert len(told) == 2
    assert "measured cover of block 'East'" in told[0]
    assert "film_laid" in told[1]
    assert "10 days old on its planting date" in told[1]
    assert not any("is not used" in text for text in silent["warnings"])
    page = CliRunner().invoke(
        cli, ["compare", str(tmp_path / "a" / "season.toml"), *ONE_DAY, "--draws", "2"]
    )
    assert "film_laid of block 'East' is not used" in " ".join(page.stdout.split())


def test_a_series_of_cover_in_a_file_is_passed_over_too(tmp_path: Path) -> None:
    (tmp_path / "cover.csv").write_text("date,cover\n2026-10-20,0.15\n2026-11-20,0.5\n")
    season = changed_block(tmp_path, 'cover = { file = "cover.csv" }\n')
    told = told_by(season, *ONE_DAY)
    assert any("measured cover" in text for text in told["warnings"])


def test_warnings_of_the_season_file_are_repeated(tmp_path: Path) -> None:
    season = changed_block(
        tmp_path, "sprinkling = { days = 3, hours = [10, 16], water_ph = 9.4 }\n",
        'film = "black"', 'film = "metallised"',
    )  # fmt: skip
    told = told_by(season, *ONE_DAY)
    assert any("block 'East': water of pH 9.4" in text for text in told["warnings"])
    assert sum("not validated" in text for text in told["warnings"]) == 1


def test_a_page_to_play_with_is_the_one_of_the_folder(tmp_path: Path) -> None:
    asked = (*DATES, "--films", "black,silver", "--draws", "3", "--language", "es")
    page, folder = tmp_path / "play.html", tmp_path / "folder"
    done = run(*asked, "--explore", str(page), "--out", str(folder))
    assert done.exit_code == 0, done.output
    html = page.read_text(encoding="utf-8")
    assert html.startswith('<!doctype html>\n<html lang="es">')
    assert html == (folder / "explore.html").read_text(encoding="utf-8")
    assert page.stat().st_size < 3e6
    assert run(*asked, "--explore", str(page)).exit_code == 3
    assert run(*asked, "--explore", str(page), "--force").exit_code == 0
    assert page.read_text(encoding="utf-8") == html
