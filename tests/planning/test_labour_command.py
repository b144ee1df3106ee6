"""`phenocast labour` on a season of two small blocks: the answer, and what is refused."""

import itertools
import json
import re

import numpy as np
import pandas as pd
import pytest
from click.testing import CliRunner

from phenocast.cli.group import cli
from phenocast.harvest.weeks import monday
from phenocast.parameters import shipped
from phenocast.report.labour import labour_parts
from phenocast.report.render import to_text

SEASON = """
[site]
name = "Home Field"
latitude = 29.3
longitude = -15.6
elevation_m = 35
time_zone = "Atlantic/Canary"
[weather]
history = { file = "tamarind_coast.parquet", time_zone = "UTC", stamp = "start", wind_height_m = 2 }
[bed]
top_width_m = 0.7
height_m = 0.25
row_spacing_m = 1.5
soil = "sandy loam"
[[block]]
name = "East"
cultivar = "Basalt"
film = "black"
planting_date = 2026-10-05
plants_per_ha = 50_000
area_ha = 3.0
transplant = "plug"
season_end = 2027-04-30
[[block]]
name = "West"
cultivar = "Gneiss"
film = "white"
planting_date = 2026-10-05
plants_per_ha = 50_000
area_ha = 2.0
transplant = "plug"
season_end = 2027-04-30
[labour]
currency = "EUR"
wage_per_h = 9.5
hours_per_week = 40
most_hours_per_week = 48
overtime = "example-day-and-week"
crew_most = 60
notice_weeks = 2
contract_weeks = 4
temporary_most = 10
temporary_wage_per_h = 14
pack = "8 x 500 g"
[prices]
currency = "EUR"
per_kg = 3.0
shape = "winter-field"
"""


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """A folder with eight of the demo's years: each costs the heat of its crew."""
    root = tmp_path_factory.mktemp("labour")
    weather = pd.read_parquet(shipped("demo_weather", "tamarind_coast.parquet"))
    late = weather[weather["time"] >= pd.Timestamp("2018-07-01", tz="UTC")]
    late.to_parquet(root / "tamarind_coast.parquet")
    return root


@pytest.fixture
def run(folder):
    def call(*options, changes=()):
        text = SEASON
        for old, new in changes:
            assert old in text
            text = text.replace(old, new)
        path = folder / "season.toml"
        path.write_text(text, encoding="utf-8")
        told = ["labour", str(path), "--draws", "3", "--scenarios", "8", *options]
        return CliRunner().invoke(cli, told, prog_name="phenocast")

    return call


@pytest.fixture(scope="module")
def document(folder):
    path = folder / "first.toml"
    path.write_text(SEASON, encoding="utf-8")
    done = CliRunner().invoke(
        cli, ["labour", str(path), "--draws", "3", "--scenarios", "8", "--json"]
    )
    assert done.exit_code == 0, done.stderr
    return json.loads(done.stdout)


@pytest.fixture(scope="module")
def page(folder):
    """What the command prints without being asked for JSON."""
    path = folder / "first.toml"
    path.write_text(SEASON, encoding="utf-8")
    done = CliRunner().invoke(cli, ["labour", str(path), "--draws", "3", "--scenarios", "8"])
    assert done.exit_code == 0, done.stderr
    return done.stdout


def test_one_document_with_the_promised_parts(document):
    assert document["schema_version"] == 1
    assert document["kind"] == "labour"
    weeks = document["weeks"]
    days = [monday(row["week"]) for row in weeks]
    assert all((b - a).days == 7 for a, b in itertools.pairwise(days))
    assert {"planned", "need_people", "short_of_core_probability", "decide_by"} <= set(weeks[0])
    assert document["figures"]["gap"] <= 1e-3
    assert document["figures"]["seasons_kept"] == 8


def test_trays_of_the_blocks_make_up_those_of_the_plan(document):
    # Sums of medians are near the median of the sum where blocks share their weather.
    total = {row["week"]: row["trays"]["p50"] for row in document["weeks"]}
    parts = dict.fromkeys(total, 0.0)
    for block in document["blocks"]:
        for row in block["weeks"]:
            parts[row["week"]] += row["trays"]["p50"]
    assert sum(parts.values()) == pytest.approx(sum(total.values()), rel=0.10)


def test_need_follows_the_fruit_and_a_pick_is_weekly_at_first(document):
    rows = document["weeks"]
    trays = np.array([row["trays"]["p50"] for row in rows])
    need = np.array([row["need_h"]["p50"] for row in rows])
    assert np.corrcoef(trays, need)[0, 1] > 0.9
    for block in document["blocks"]:
        sure = [row["picks"] for row in block["weeks"] if row["trays"]["p10"] > 0.0]
        assert min(sure) == 1.0
        assert 2.0 < max(sure) <= 3.5


def test_every_output_carries_the_cautions(document, page):
    assert "planning aid, not a safety programme" in document["heat"]["cautions"][0]
    flat = " ".join(page.split())
    for text in document["heat"]["cautions"]:
        assert text in flat
    assert "shipped example and nobody's law" in flat
    assert re.search(r"\bsafe\b", page) is None
    assert max(len(line) for line in page.splitlines()) <= 100
    assert "above the best possible one" in flat
    assert "seasons stand for all" in page


def test_assumed_parameters_are_listed(document):
    told = {(one["set"], one["name"]) for one in document["assumptions"]}
    assert {("labour picking", "walk"), ("labour crew", "deferral_loss")} <= told
    assert any(kind.startswith("cultivar ") for kind, _ in told)
    assert ("labour packing", "shed_rate") not in told  # the pickers pack in the field
    listed = to_text(labour_parts, document, list_assumed=True)
    assert re.search(r"labour [a-z]+: walk +20 +h ha-1", listed)


def test_how_much_may_wait_is_the_growers_to_say(run, document):
    stated = ("crew_most =", "deferral_share = 0\ndeferral_loss = 0.5\ncrew_most =")
    told = json.loads(run("--json", changes=[stated]).stdout)
    names = {(one["set"], one["name"]) for one in told["assumptions"]}
    assert not {("labour crew", "deferral_share"), ("labour crew", "deferral_loss")} & names
    assert told["figures"]["expected_cost"] >= document["figures"]["expected_cost"]
    refused = run(changes=[(stated[0], "deferral_share = 1.5\ncrew_most =")])
    assert refused.exit_code == 3
    assert "deferral_share" in refused.stderr


def test_the_same_call_prints_the_same_bytes(run, document):
    again = run("--json")
    assert json.loads(again.stdout) == document


def test_a_plan_in_mid_season_keeps_what_was_decided(run):
    known = "crew_so_far = [{ from = 2026-12-28, people = 6 }, { from = 2027-01-11, people = 9 }]"
    changes = [("crew_most = 60", f"crew_most = 60\n{known}")]
    done = run("--json", "--as-of", "2027-01-15", changes=changes)
    assert done.exit_code == 0, done.stderr
    rows = json.loads(done.stdout)["weeks"]
    past = {row["week"]: row for row in rows if row["decide_by"] is None}
    # two weeks of notice: Mondays up to 29 January are decided
    assert list(past) == ["2026-W53", "2027-W01", "2027-W02", "2027-W03", "2027-W04"]
    assert [row["planned"] for row in past.values()] == [6, 6, 9, 9, 9]
    assert past["2027-W01"]["trays"]["p90"] == 0
    assert past["2027-W03"]["trays"]["p50"] > 0


def test_crew_so_far_beyond_the_notice_is_told_and_not_dropped(run):
    known = "crew_so_far = [{ from = 2027-01-04, people = 6 }, { from = 2027-03-01, people = 20 }]"
    changes = [("crew_most = 60", f"crew_most = 60\ncrew_now = 9\n{known}")]
    done = run("--json", "--as-of", "2027-01-15", changes=changes)
    assert done.exit_code == 0, done.stderr
    document = json.loads(done.stdout)
    told = [text for text in document["warnings"] if text.startswith("crew_")]
    assert told[0] == (
        "crew_so_far: 20 people from 2027-03-01 on are not used: the weeks from 2027-02-01 on lie "
        "beyond the notice (notice_weeks 2), so the plan decides them; for people who are agreed "
        "on state crew_least, or state them again with a later --as-of"
    )
    assert told[1].startswith("crew_now (9) and crew_so_far (6 people on 2027-01-15) disagree")
    first = document["weeks"][0]
    assert (first["week"], first["planned"], first["change"]) == ("2027-W01", 6, 6)


def test_a_crew_that_has_fallen_is_taken_as_a_fact(run):
    # contracts of four weeks, and ten of twelve have gone after one
    known = "crew_so_far = [{ from = 2027-01-04, people = 12 }, { from = 2027-01-11, people = 2 }]"
    done = run("--json", "--as-of", "2027-01-15",
               changes=[("crew_most = 60", f"crew_most = 60\n{known}")])  # fmt: skip
    assert done.exit_code == 0, done.stderr
    assert [row["planned"] for row in json.loads(done.stdout)["weeks"]][:4] == [12, 2, 2, 2]


def test_hours_are_those_of_the_local_clock_with_its_zone(document, page):
    heat = document["heat"]
    assert heat["time_zone"] == "Atlantic/Canary"
    assert [one["name"] for one in heat["clock"]] == ["WET", "WEST"]
    assert heat["clock"][1]["from"] == "2027-03-28"
    flat = " ".join(page.split())
    assert "06:00 to 13:10 by the local clock (Atlantic/Canary: WET, UTC+00:00" in flat
    assert "from 28 Mar WEST, UTC+01:00), breaks kept in" in flat


def test_overtime_above_a_limit_is_said_first(run, document):
    worked = {row["week"]: row["hours_a_person"]["most"] for row in document["heat"]["weeks"]}
    assert 40.0 < max(worked.values()) <= 48.0
    assert document["heat"]["long_week"] is None  # 48 h where the season states no limit
    stated = ("crew_most =", "long_week_h = 44\ncrew_most =")
    done = run("--json", changes=[stated])
    long = json.loads(done.stdout)["heat"]["long_week"]
    above = [week for week, hours in worked.items() if hours > 44.0]
    assert (long["limit_h"], long["stated"]) == (44.0, True)
    assert (long["weeks"], long["hours"]) == (len(above), max(worked.values()))
    page = run(changes=[stated]).stdout
    assert page.index("First: in ") < page.index("Most people are needed")
    assert "law of the place says how long people may work" in " ".join(page.split())


def test_packing_in_a_shed_adds_people(run, document):
    shed = 'packed_in = "shed"\npacking_kg_per_h = 40\n[prices]'
    done = run("--json", changes=[("[prices]", shed)])
    shed = json.loads(done.stdout)
    field = {row["week"]: row for row in document["weeks"]}
    for row in shed["weeks"]:
        extra = row["need_people"]["p50"] - field[row["week"]]["need_people"]["p50"]
        assert extra == pytest.approx(row["packing_people"]["p50"], abs=0.15 + 0.05 * extra)
    assert shed["figures"]["expected_cost"] > document["figures"]["expected_cost"]


def test_a_price_file_of_weeks_is_used_and_one_with_a_gap_is_refused(run, folder):
    weeks = [f"2026-W{w}" for w in range(46, 54)] + [f"2027-W{w:02d}" for w in range(1, 19)]
    by_file = [('per_kg = 3.0\nshape = "winter-field"', 'file = "prices.csv"')]

    def write(lines):
        (folder / "prices.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")

    write(["week,price_per_kg", *(f"{week},3.0" for week in weeks)])
    assert run(changes=by_file).exit_code == 0
    write(["week,price_per_kg", *(f"{w},3.0" for w in weeks if w != "2027-W03")])
    done = run(changes=by_file)
    assert done.exit_code == 3
    assert "2027-W03" in done.stderr
    assert "prices.csv" in done.stderr
    assert done.stdout == ""
    write(["week,price_per_kg", *(f"{w},3.0" for w in weeks[:12])])
    done = run(changes=by_file)
    assert done.exit_code == 3
    told = " ".join(done.stderr.split())
    assert "prices.csv: no price for 13 weeks in which fruit is possible" in told
    assert "2027-W05 to 2027-W17" in told
    lines = [f"{w},3.0,{'EUR' if n % 2 else 'USD'}" for n, w in enumerate(weeks)]
    write(["week,price_per_kg,currency", *lines])
    done = run(changes=by_file)
    assert done.exit_code == 3
    assert "EUR, USD" in " ".join(done.stderr.split())


def test_tallies_take_the_place_of_the_shipped_rates(run, folder):
    rng = np.random.default_rng(0)
    lines = ["block,date,trays,picker_hours"]
    for day in range(1, 25):
        trays = rng.uniform(200, 1200)
        tonnes = trays * 4.0 * 1.02 / 1000.0 / 3.0
        lines.append(f"East,2027-01-{day:02d},{trays:.0f},{3.0 * (30.0 + 35.0 * tonnes):.1f}")
    (folder / "tallies.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    named = [("[prices]", 'tallies = "tallies.csv"\n[prices]')]
    done = run("--json", changes=named)
    assert done.exit_code == 0, done.stderr
    picking = json.loads(done.stdout)["picking"]
    assert picking["from"] == "your tallies"
    assert picking["walk_h_per_ha"] == pytest.approx(30.0, abs=0.3)
    (folder / "tallies.csv").write_text("\n".join([lines[0], "Eeast,2027-01-01,10,3"]) + "\n")
    done = run(changes=named)
    assert done.exit_code == 3
    assert "did you mean 'East'" in " ".join(done.stderr.split())
    works = enumerate(("10,3", "0,3", "10,0", "0,1"), start=1)
    rows = [f"East,2027-01-{day:02d},{work}" for day, work in works]
    (folder / "tallies.csv").write_text("\n".join([lines[0], *rows]) + "\n")
    done = run(changes=named)
    told = " ".join(done.stderr.split())
    assert done.exit_code == 3
    # lines of the file, as everywhere: the header is the first
    assert "tallies.csv, row 3, column trays: not above zero in 2 rows" in told
    assert "tallies.csv, row 4, column picker_hours: not above zero in 1 row " in told


@pytest.mark.parametrize(
    ("changes", "options", "code", "words"),
    [
        ([("crew_most = 60", "crew_most = 2\nloss_limit = 0.0")], (), 4, "crew_most"),
        ([("crew_most = 60", "crew_most = 60\nloss_limit = 0.0\nline_trays_per_day = 5")], (), 4,
         "line_trays_per_day"),
        ([("crew_most = 60", "crew_most = 0"), ("temporary_most = 10", "temporary_most = 0")], (),
         3, "no workers at all"),
        ([("area_ha = 3.0\n", "")], (), 3, "area_ha: this key is required"),
        ([('pack = "8 x 500 g"', 'pack = "own"\ntray_kg = 0.0')], (), 3, "tray_kg"),
        ([("[prices]\ncurrency = \"EUR\"", "[prices]\ncurrency = \"USD\"")], (), 3, "currencies"),
        ([("hours_per_week = 40\nmost_hours_per_week = 48",
           "hours_per_week = 50\nmost_hours_per_week = 55"),
          ("overtime = \"example-day-and-week\"", "overtime = { longest_week_h = 45 }")], (), 3,
         "labour.hours_per_week: the contract is longer than the overtime rules allow"),
        ([], ("--as-of", "2027-06-30"), 4, "before the last week of the season, 2027-W17"),
        ([], ("--as-of", "2027-04-27"), 4, "no fruit left"),
    ],
    ids=["crew", "line", "nobody", "area", "tray", "currency", "law", "over", "last"],
)  # fmt: skip
def test_what_is_refused_and_how(run, folder, changes, options, code, words):
    before = sorted(path.name for path in folder.iterdir())
    done = run(*options, changes=changes)
    assert done.exit_code == code, done.stderr
    assert words in " ".join(done.stderr.split())
    assert done.stdout == ""
    assert sorted({*before, "season.toml"}) == sorted(path.name for path in folder.iterdir())


def test_a_season_without_labour_says_what_to_add(run):
    start = SEASON.index("[labour]")
    done = run(changes=[(SEASON[start:], "")])
    assert done.exit_code == 3
    assert "add a table [labour]" in " ".join(done.stderr.split())


def test_only_rules_that_can_be_loosened_are_named(run):
    done = run(
        changes=[("notice_weeks = 2", "notice_weeks = 30\nloss_limit = 0.02"),
                 ("temporary_most = 10", "temporary_most = 1")],
    )  # fmt: skip
    assert done.exit_code == 4
    told = " ".join(done.stderr.split())
    for rule in ("notice_weeks, 30", "temporary_most", "loss_limit", "(0.02)"):
        assert rule in told
    for nature in ("rule: fruit", "hours of the crews", "plan: fruit"):
        assert nature not in told


def test_a_season_that_is_over_is_told_before_the_long_work(run):
    done = run("--as-of", "2027-06-30")
    assert "planning the crew" not in done.stderr


def test_a_least_crew_and_contracts_beyond_the_season_are_told(run):
    done = run(changes=[("crew_most = 60", "crew_most = 60\ncrew_least = 30")])
    assert "crew_least (30) keeps more people than the P90 need" in " ".join(done.stdout.split())
    done = run(changes=[("contract_weeks = 4", "contract_weeks = 30")])
    assert "contracts of 30 weeks run beyond the last week" in " ".join(done.stdout.split())


def test_capacity_below_the_first_weeks_fruit_is_told_and_the_plan_still_made(run):
    done = run(changes=[("crew_most = 60", "crew_most = 60\nline_trays_per_day = 2")])
    assert done.exit_code == 0
    assert "fruit is lost from the start" in " ".join(done.stdout.split())


def test_warnings_of_season_and_blocks_are_repeated(run):
    water = "sprinkling = { days = 3, hours = [10, 16], water_ph = 9.4 }"
    done = run(
        "--json",
        changes=[
            ('film = "white"', f'film = "metallised"\n{water}'),
            ('"black"\nplanting_date = 2026-10-05', '"black"\nplanting_date = 2026-09-10'),
            (
                'area_ha = 3.0\ntransplant = "plug"',
                'area_ha = 3.0\ntransplant = "conditioned-plug"',
            ),
        ],
    )
    assert done.exit_code == 0, done.stderr
    told = json.loads(done.stdout)["warnings"]
    assert any("block 'West': water of pH 9.4" in text for text in told)
    assert any(text.startswith("East: planted before a nursery") for text in told)
    # its own cautions on heat stand in place of the short one of every forecast
    assert not any("work in hot weather" in text for text in told)
