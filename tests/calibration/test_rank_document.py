"""The ranking as a document and as text: what it says, what it leaves open, and when it refuses."""

import json
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from phenocast.calibration.ranking.document import FitFacts, rank_document, refuse_unrankable
from phenocast.calibration.ranking.film_effect import film_split
from phenocast.calibration.ranking.heat_response import HeatResponse, HeatScenario
from phenocast.calibration.ranking.indices import regimes, responses
from phenocast.errors import NoAnswerError
from phenocast.report.rank import rank_parts, rank_rows
from phenocast.report.render import to_text
from phenocast.tables import RANK_COLUMNS
from tests.simulation.conftest import a_setup

NAMES = ("Basalt", "Gneiss", "Marl")
DRAWS = 400


def response(loss=(0.12, 0.05, 0.25), sd=0.01, years=("2019/20", "2020/21")):
    rng = np.random.default_rng(1)
    season = np.array(loss)[:, np.newaxis] + rng.normal(0.0, sd, (3, DRAWS))
    mild = np.full((3, len(years), DRAWS), 600.0)
    return HeatResponse(
        NAMES, years, season, 2.0 * season, 20.0 * season, np.zeros((3, DRAWS)), mild,
        mild * (1.0 - season[:, np.newaxis]),
    )  # fmt: skip


def yields():
    rows = []
    for season, shift in (("2024", 0.0), ("2025", 40.0)):
        for film, heat in (("black", 900.0), ("silver", 250.0)):
            rows += [
                {"cultivar": c, "season": season, "film": film, "planting_date": "2025-10-01",
                 "heat": heat + shift, "yield": 600.0 + shift - k * (heat + shift) / 10.0}
                for c, k in (("Basalt", 1.0), ("Gneiss", 0.5), ("Marl", 2.0))
            ]  # fmt: skip
    return pd.DataFrame(rows)


def document(found=None, **options):
    table = yields()
    split = film_split("yield", "silver", "black", ["2024"], [0.3], np.full((1, 50), 0.2))
    return rank_document(
        response() if found is None else found, HeatScenario(3.0, 60), a_setup(),
        FitFacts("my-fit", "picks.csv", ("2024", "2025"), ("told by the fit",)),
        season_file="2025.toml", seed=0, regimes=regimes(table), responses=responses(table),
        films=[split], **options,
    )  # fmt: skip


def test_the_order_and_its_sentences():
    told = document()
    assert [one["cultivar"] for one in told["cultivars"]] == ["Gneiss", "Basalt", "Marl"]
    assert told["in_words"][0].startswith("Gneiss loses least fruit")
    assert told["in_words"][-1] == "Worse than the best (95 %, all together): Basalt, Marl."
    assert told["warnings"] == [
        "told by the fit",
        "the block states no protection from frost: none is counted in the scenario",
    ]
    json.dumps(told)  # plain values only


def test_one_fit_has_one_order_of_cultivars():
    told = document(response(loss=(0.12, 0.30, 0.05)))
    order = [one["cultivar"] for one in told["cultivars"]]
    assert order == ["Marl", "Basalt", "Gneiss"]
    for part in ("regimes", "responses"):  # though their own figures would put Gneiss first
        assert [one["cultivar"] for one in told["raw"][part]["cultivars"]] == order
    text = to_text(rank_parts, told)
    assert text.count("in the order of the ranking") == 2


def test_a_wide_spread_drops_no_cultivar():
    told = document(response(sd=0.2))
    assert all(one["may_be_best"] for one in told["cultivars"])
    assert "this is no reason to drop one" in told["in_words"][-1]


def test_rank_by_delay_has_its_unit():
    told = document(by="delay")
    assert told["unit"] == "d"
    assert "is delayed least" in told["in_words"][0]


def test_a_cultivar_without_early_fruit_cannot_be_ranked_by_it():
    found = response()
    found.early_loss[2, 5] = np.nan
    with pytest.raises(NoAnswerError, match=r"Marl.*no early fruit"):
        document(found, by="early")
    assert document(found)["cultivars"][2]["early_loss"]["median"] is not None


def test_a_typical_year_is_told():
    told = document(replace(response(years=("typical year",))))
    assert "typical year alone" in told["warnings"][-1]


def test_intervals_are_nested_and_probabilities_add_up():
    told = document(response(sd=0.1))
    for one in told["cultivars"]:
        low95, high95 = one["interval_95"]
        low80, high80 = one["interval_80"]
        assert low95 <= low80 <= one["estimate"] <= high80 <= high95
    assert sum(one["p_best"] for one in told["cultivars"]) == pytest.approx(1.0, abs=2e-3)
    assert sum(one["expected_rank"] for one in told["cultivars"]) == pytest.approx(6.0, abs=0.02)


def test_what_keeps_a_fit_from_ranking_is_said_with_what_would_settle_it():
    verdict = {
        "rankable": False,
        "why_not": ["dates alone say nothing about heat"],
        "records_that_would_settle_it": ["weekly weights"],
    }
    with pytest.raises(NoAnswerError, match=r"dates alone.*to settle it: weekly weights"):
        refuse_unrankable(verdict, "my-fit")


def test_a_fit_without_a_verdict_is_not_ranked():
    with pytest.raises(NoAnswerError):
        refuse_unrankable({}, "my-fit")


@pytest.mark.parametrize("by", ["season", "early", "delay"])
def test_the_text_fits_its_page_and_says_what_the_document_says(by):
    told = document(by=by)
    text = to_text(rank_parts, told)
    assert max(map(len, text.splitlines())) <= 100
    assert text.endswith("\n")
    for one in told["cultivars"]:
        assert one["cultivar"] in text
    assert "3.0 °C warmer for 60 days" in " ".join(text.split())
    assert "In forecasts" in " ".join(text.split())


def test_long_names_keep_to_the_page():
    found = response()
    long = HeatResponse(("x" * 60, "y" * 60, "z" * 60), *list(vars(found).values())[1:])
    assert max(map(len, to_text(rank_parts, document(long)).splitlines())) <= 100


def test_rows_of_the_table_stand_in_order_with_the_raw_indices():
    rows = rank_rows(document())
    assert tuple(rows[0]) == RANK_COLUMNS
    assert [row["rank"] for row in rows] == [1, 2, 3]
    assert rows[0]["cultivar"] == "Gneiss"
    assert rows[2]["ssi"] > 1.0 > rows[0]["ssi"]
    assert rows[2]["slope_g_per_100_degree_hours"] < rows[0]["slope_g_per_100_degree_hours"]


def test_missing_regimes_are_a_sentence_and_empty_cells():
    told = rank_document(
        response(), HeatScenario(3.0, 60), a_setup(), FitFacts("f", "p.csv", ("2025",)),
        season_file="2025.toml", seed=0, regimes="only one regime was grown",
        responses="too few", films="one film was grown",
    )  # fmt: skip
    assert "No indices from raw yields:\n  only one regime was grown" in to_text(rank_parts, told)
    assert rank_rows(told)[0]["ssi"] is None
