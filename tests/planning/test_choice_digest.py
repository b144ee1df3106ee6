"""Weeks summed up once and let go: the same figures as from the weeks themselves."""

from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from phenocast.errors import InputError
from phenocast.forecast.packout import packout_of
from phenocast.forecast.result import weekly_rows
from phenocast.planning.comparison.digest import digest_of, week_quantiles, week_rows
from phenocast.planning.prices import PriceCurve
from phenocast.season import Costs

FRUIT = arrays(
    np.float32, st.tuples(st.integers(1, 40), st.integers(1, 6)),
    elements=st.floats(0.0, 300.0, width=32),
)  # fmt: skip


@given(FRUIT)
def test_quantiles_are_those_of_every_week_by_itself(weekly: np.ndarray) -> None:
    chain = packout_of(None, draws=len(weekly), seed=0)
    grid = np.stack([weekly, weekly * 0.0])[:, None]
    ripe, picked, bears = week_quantiles(grid, chain, 50_000.0)
    carried = chain.picked_g(weekly, 50_000.0)
    for found, cases in ((ripe, weekly), (picked, carried)):
        wanted = np.quantile(cases.astype(float), [0.1, 0.5, 0.9], axis=0).T
        assert found[0] == pytest.approx(wanted, rel=1e-9, abs=1e-9)
        assert not found[1].any()
    assert bears.tolist() == carried.any(axis=0).tolist()


def test_rows_are_those_of_the_forecast_document() -> None:
    rng = np.random.default_rng(3)
    weekly = rng.gamma(1.0, 20.0, size=(4, 30, 7)).astype(np.float32)
    weekly[..., [0, 3, 6]] = 0.0  # before the first fruit, a gap, after the last
    labels = [f"2027-W{week:02d}" for week in range(1, 8)]
    later = weekly.copy()
    later[..., 1] = 0.0
    several = np.stack([weekly, np.zeros_like(weekly), later])
    chain = packout_of(None, draws=30, seed=0)
    ripe, picked, _ = week_quantiles(several, chain, 50_000.0)
    rows, none, fewer = week_rows(labels, ripe, 0.37 * picked)
    wanted, left = (
        weekly_rows(labels, fruit, 0.37 * chain.picked_g(fruit, 50_000.0))
        for fruit in (weekly.astype(float), later.astype(float))
    )
    assert rows == wanted
    assert [row["week"] for row in rows] == labels[1:6]
    assert none == []
    assert fewer == left == rows[1:]


def options(n: int = 3):
    """Options as `run_options` leaves them, as far as a digest looks at them."""
    from tests.planning.test_price_tilt import seasons_of

    rng = np.random.default_rng(4)
    return seasons_of(rng.gamma(1.0, 20.0, size=(n, 4)))


def test_the_weeks_are_gone_afterwards(monkeypatch: pytest.MonkeyPatch) -> None:
    from phenocast.planning.comparison import digest as choice_digest

    def changed(seasons: SimpleNamespace, **parts: object) -> SimpleNamespace:
        return SimpleNamespace(**(vars(seasons) | parts))

    monkeypatch.setattr(choice_digest, "replace", changed)  # the stand-in is no dataclass
    seasons = options()
    digest = digest_of(seasons, packout_of(None, draws=1, seed=1), seed=1)
    assert digest.seasons.weekly_g.nbytes == 0
    assert digest.seasons.weekly_g.shape[:3] == seasons.weekly_g.shape[:3]
    assert digest.money is None
    for row in range(3):
        assert digest.ripe_quantiles[row] == pytest.approx(
            np.repeat(seasons.weekly_g[row, 0, 0][:, None], 3, axis=1)
        )


def test_another_currency_is_refused() -> None:
    curve = PriceCurve(("2026-W50", "2026-W51", "2026-W52", "2026-W53"), np.full(4, 2.0), "EUR")
    with pytest.raises(InputError, match="different currencies"):
        digest_of(
            options(), packout_of(None, draws=1, seed=1), seed=1, curve=curve, costs=Costs("USD")
        )
