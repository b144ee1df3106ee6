"""One chain from ripe to packed fruit: every command prints the same trays for the same week."""

from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from phenocast.cli.running import load
from phenocast.forecast import run_forecast
from phenocast.forecast.packout import Packout, packout_of, tray
from phenocast.io import read_prices
from phenocast.parameters.library import shipped
from phenocast.planning.comparison.money import money_of
from phenocast.planning.labour.document import labour_document
from phenocast.planning.labour.plan import plan_labour
from phenocast.planning.prices import PriceCurve
from phenocast.season import Costs
from tests.planning.test_price_tilt import WEEKS, seasons_of

DEMO = shipped("demo_weather", "low_quay.toml")
ISSUED = date(2026, 9, 1)


@pytest.fixture(scope="module")
def forecast():
    """Two blocks of the demo in three past years."""
    loaded = load(DEMO)
    history = loaded.weather.history
    part = history.slice(len(history) - 24 * 366 * 4, len(history))
    season = replace(loaded.told, blocks=loaded.told.blocks[2:4])
    return run_forecast(
        season, replace(loaded.weather, history=part, observed=None, outlook={}),
        issue_date=ISSUED, draws=3, seed=2,
    )  # fmt: skip


def test_forecast_and_labour_print_the_same_trays_in_every_week(forecast):
    curve = read_prices(forecast.season, DEMO.parent, forecast.total_trays()[0])
    plan = plan_labour(forecast, as_of=ISSUED, curve=curve, scenarios=3)
    labour = labour_document(forecast, plan)
    told = forecast.to_dict()
    forecast_weeks = {row["week"]: row["trays"] for row in told["total"]["weekly"]}
    labour_weeks = {row["week"]: row["trays"] for row in labour["weeks"]}
    assert len(forecast_weeks) > 15
    assert {week: labour_weeks[week] for week in forecast_weeks} == forecast_weeks
    for one, other in zip(told["blocks"], labour["blocks"], strict=True):
        weeks = {row["week"]: row["trays"] for row in one["weekly"]}
        for row in other["weeks"]:
            if row["week"] in weeks:
                assert {k: round(v) for k, v in row["trays"].items()} == pytest.approx(
                    weeks[row["week"]], abs=1
                )
    assert told["pack"] == labour["pack"]
    assert told["pack"]["name"] == "8 x 500 g"
    assert told["pack"]["left_share"]["p10"] < 0.12 < told["pack"]["left_share"]["p90"]
    assert ("labour picking", "left_share") in {
        (one["set"], one["name"]) for one in told["assumptions"]
    }


def test_the_trays_of_a_block_by_hand(forecast):
    block = forecast.blocks[0]
    ripe = block.weekly_g.astype(float)
    week = int(ripe.mean(axis=(0, 1)).argmax())
    by_hand = (
        ripe[..., week] * (1.0 - forecast.packout.left_share) * 52_000 * 2.2 / 1000.0 / (4.0 * 1.02)
    )
    found = forecast.packout.trays(ripe, block.setup.block)[..., week]
    assert found == pytest.approx(by_hand, rel=1e-12)


def test_a_week_too_poor_for_a_pick_fills_no_tray_in_any_command(forecast):
    # 0.3 g on 50 000 plants is 15 kg a hectare, below the 20 kg for which a crew is sent.
    chain = packout_of(forecast.season.labour, draws=1, seed=0)
    assert chain.picked_g(np.array([[0.3, 0.5]]), 50_000.0)[0].tolist()[0] == 0.0
    assert chain.picked_g(np.array([[0.3, 0.5]]), 50_000.0)[0, 1] > 0.4


def test_a_stated_share_left_in_the_field_has_no_spread(forecast):
    stated = replace(forecast.season, labour=replace(forecast.season.labour, left_share=0.3))
    told = replace(forecast, season=stated)
    assert told.packout.to_dict()["left_share"] == {"p10": 0.3, "p50": 0.3, "p90": 0.3}
    ratio = told.total_trays()[1].sum() / forecast.total_trays()[1].sum()
    assert ratio == pytest.approx(0.7 / (1.0 - forecast.packout.left_share.mean()), rel=0.02)
    assert "left_share" not in {one["name"] for one in told.to_dict()["assumptions"]}


def test_revenue_of_one_week_is_the_price_of_what_is_packed() -> None:
    # By hand: 1000 plants at 100 g ripen 100 kg, a fifth stays, 80 kg are picked. A tray of 4 kg
    # takes 4.2 kg, so 80 / 4.2 trays are paid for 4 kg each at 3 EUR; the harvest costs 0.5 EUR
    # for each kg that is picked.
    chain = Packout(tray("8 x 500 g", over_pack=0.05), np.array([0.2]), 0.02)
    curve = PriceCurve(WEEKS, np.full(4, 3.0), "EUR")
    costs = Costs("EUR", harvest_per_kg=0.5)
    money = money_of(seasons_of([[0.0, 100.0, 0.0, 0.0]]), chain, curve, costs, 0, 0)
    assert money.revenue.item() == pytest.approx(3.0 * 4.0 * 80.0 / 4.2)
    assert money.harvest().item() == pytest.approx(40.0)
    assert money.margins().item() == pytest.approx(3.0 * 4.0 * 80.0 / 4.2 - 40.0)
