"""Indices from raw yields: which environments make the regimes, and when there are none."""

import numpy as np
import pandas as pd
import pytest

from phenocast.calibration.ranking.indices import regimes, responses
from phenocast.errors import InputError

# yields of the published check of SSI and STI (tests/published/test_heat_indices_three_yields.py)
MILD = {"A": 10.0, "B": 8.0, "C": 5.0}
HOT = {"A": 7.0, "B": 5.0, "C": 3.0}


def rows(yields, film, heat, season="2026", planting="2026-10-01"):
    return [
        {"cultivar": c, "season": season, "film": film, "planting_date": planting, "yield": y,
         "heat": heat}
        for c, y in yields.items()
    ]  # fmt: skip


@pytest.fixture
def two_films():
    return pd.DataFrame(rows(MILD, "silver", 300.0) + rows(HOT, "black", 900.0))


def test_indices_are_those_of_the_published_yields(two_films):
    found = regimes(two_films)
    assert found.indices.ssi == pytest.approx([0.8625, 1.0781, 1.15], abs=1e-4)
    assert found.indices.sti == pytest.approx([1.1909, 0.6805, 0.2552], abs=1e-4)
    assert found.indices.gmp == pytest.approx([8.3666, 6.3246, 3.8730], abs=1e-4)
    assert found.pairs[0]["hot"] == "2026, 2026-10-01, black"


def test_plots_of_one_environment_are_averaged_first(two_films):
    more = two_films.copy()
    more["yield"] += 2.0
    less = two_films.copy()
    less["yield"] -= 2.0
    found = regimes(pd.concat([more, less], ignore_index=True))
    assert found.hot.tolist() == list(HOT.values())


def test_a_film_pair_of_one_date_goes_before_two_dates(two_films):
    late = pd.DataFrame(rows({"A": 1.0, "B": 1.0, "C": 1.0}, "black", 10.0, planting="2026-11-20"))
    found = regimes(pd.concat([two_films, late], ignore_index=True))
    assert found.mild.tolist() == list(MILD.values())


def test_two_dates_stand_in_where_one_film_was_grown():
    early = rows(HOT, "black", 900.0, planting="2026-09-20")
    late = rows(MILD, "black", 300.0, planting="2026-10-20")
    found = regimes(pd.DataFrame(early + late))
    assert found.hot.tolist() == list(HOT.values())


def test_a_cultivar_that_was_not_in_the_hot_plots_leaves_no_regime(two_films):
    assert "only one regime" in regimes(two_films.iloc[:-1])


def test_one_film_is_one_regime(two_films):
    assert "only one regime" in regimes(two_films[two_films["film"] == "black"])


def test_a_film_that_is_hardly_hotter_makes_no_regime(two_films):
    two_films.loc[two_films["film"] == "black", "heat"] = 350.0
    assert "factor of 1.25" in regimes(two_films)


def test_a_hot_regime_that_took_nothing_is_said():
    table = pd.DataFrame(rows(HOT, "silver", 300.0) + rows(MILD, "black", 900.0))
    assert "took no yield" in regimes(table)


def test_slopes_are_yield_lost_per_degree_hour():
    heat = np.array([100.0, 400.0, 700.0, 1000.0])
    slope = {"A": -0.1, "B": -0.3, "C": -0.2}
    table = pd.DataFrame(
        [row for i, h in enumerate(heat)
         for row in rows({c: 600.0 + s * h for c, s in slope.items()}, "black", h, season=str(i))]
    )  # fmt: skip
    found = responses(table)
    assert found.slopes.slopes == pytest.approx([-0.1, -0.3, -0.2])
    # all interaction lies on the heat: one axis holds it
    assert found.axes.shares[0] == pytest.approx(1.0)
    assert found.stability is not None
    assert np.argmax(found.stability) in (0, 1)


def test_too_few_environments_for_slopes_are_said(two_films):
    assert "in 2 environment(s)" in responses(two_films)


def test_a_missing_yield_is_refused(two_films):
    two_films.loc[1, "yield"] = np.nan
    with pytest.raises(InputError, match="row 1"):
        regimes(two_films)


def test_a_missing_column_is_refused(two_films):
    with pytest.raises(InputError, match="heat"):
        regimes(two_films.drop(columns="heat"))
