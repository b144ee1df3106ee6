"""Frost beside a labour plan and in the note of a fit."""

from dataclasses import replace
from datetime import date
from types import SimpleNamespace

import numpy as np
import pytest

from phenocast.calibration.cultivar.blocks import FitBlock, frost_not_stated
from phenocast.phenology.daily import FLOWER_MIN, N_DAILY
from phenocast.planning.labour.document import labour_frost
from phenocast.report.reader import Reader
from phenocast.report.render import item_lines
from phenocast.report.stress import frost_section, frost_summary
from phenocast.weather import HourlyWeather
from tests.forecast.test_frost import END, NIGHTS, WATER, colder, told
from tests.forecast.test_run import a_block
from tests.simulation.conftest import miami

__all__ = ["miami"]


@pytest.fixture(scope="module")
def forecast(miami: HourlyWeather):
    return told(
        colder(miami, NIGHTS), a_block("silent", season_end=END),
        a_block("wet", season_end=END, frost_protection=WATER),
    )  # fmt: skip


@pytest.fixture(scope="module")
def plan(forecast):
    labels, trays = forecast.total_trays()
    return SimpleNamespace(weeks=tuple(labels), p50=np.quantile(trays, 0.5, axis=(0, 1)))


def test_a_plan_tells_frost_by_date_and_the_trays_that_protection_keeps(forecast, plan):
    frost = labour_frost(forecast, plan)
    assert forecast.warnings[0].startswith("CAUTION: frost takes")
    silent, wet = frost["blocks"]
    assert [night["date"] for night in silent["frost"]["nights"]] == [d.isoformat() for d in NIGHTS]
    assert silent["frost"]["share_of_season_lost"]["mean"] > 0.4
    assert wet["frost"]["share_of_season_lost"]["mean"] == 0.0
    # the silent block with protection bears as the wet one does: the two are alike
    beside = np.array([row["trays"]["p50"] for row in frost["with_protection"]["weekly"]])
    weekly = forecast.blocks[1].weekly_g
    of_wet = forecast.packout.trays(weekly, forecast.blocks[1].setup.block)
    assert beside == pytest.approx(2.0 * np.quantile(of_wet, 0.5, axis=(0, 1)), abs=1.0)
    assert beside.sum() > 1.2 * plan.p50.sum()


def test_text_and_page_of_a_plan_tell_it(forecast, plan):
    document = {
        "frost": labour_frost(forecast, plan),
        "weeks": [{"week": week, "trays": {"p50": round(float(trays))}}
                  for week, trays in zip(plan.weeks, plan.p50, strict=True)],
    }  # fmt: skip
    reader = Reader()
    (section,) = frost_section(document, reader)
    lines = item_lines(section.items)
    text = " ".join(" ".join(lines).split())
    for words in ("silent", "18 January 2026", "With protection", "No protection is stated"):
        assert words in text
    assert "takes 49" in frost_summary(document["frost"]["blocks"], reader)[0]


def test_where_every_block_states_its_protection_nothing_stands_beside(forecast, plan):
    stated = replace(forecast, blocks=forecast.blocks[1:])
    assert labour_frost(stated, plan)["with_protection"] is None


def test_a_fit_names_blocks_that_had_frost_and_state_no_protection():
    daily = np.full((N_DAILY, 40), 5.0)
    cold = daily.copy()
    cold[FLOWER_MIN, 20] = -1.0

    def block(name: str, table: np.ndarray, kind: str | None = None) -> FitBlock:
        return FitBlock(
            "2025",
            name,
            "black",
            "Basalt",
            "plug",
            date(2025, 10, 1),
            1e4,
            3.0,
            np.zeros(1),
            0,
            table,
            None,
            None,
            None,
            False,
            kind,
        )  # type: ignore

    silent = [block("mild", daily), block("cold", cold), block("wet", cold, "overhead-water")]
    (note,) = frost_not_stated(silent)
    assert note.startswith("frost nights in 2025: cold: no protection is stated")
    assert frost_not_stated(silent[::2]) == []
