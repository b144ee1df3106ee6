"""Draws keep to their bounds, follow the stated spread and do not disturb each other."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import truncnorm

from phenocast.errors import InputError
from phenocast.parameters import Parameter, ParameterSet, bed, cultivars, films


def one(value: float, lower: float, upper: float, sd: float, name: str = "a") -> ParameterSet:
    parameter = Parameter(value, "1", lower, upper, sd, "assumed", "", "own", "", False)
    return ParameterSet("set", {name: parameter})


@given(
    value=st.floats(-50, 50),
    below=st.floats(0, 20),
    above=st.floats(0, 20),
    sd=st.floats(0.01, 30),
    seed=st.integers(0, 2**31),
)
def test_draws_stay_within_their_bounds(
    value: float, below: float, above: float, sd: float, seed: int
) -> None:
    drawn = one(value, value - below, value + above, sd).draw(seed, 50)["a"]
    assert drawn.shape == (50,)
    assert np.all((drawn >= value - below) & (drawn <= value + above))


@pytest.mark.parametrize(
    ("value", "lower", "upper", "sd"),
    [(1.0, 0.0, 2.0, 0.2), (0.66, 0.4, 0.78, 0.09), (0, 0, 1, 0.3)],
)
def test_draws_follow_the_truncated_normal(
    value: float, lower: float, upper: float, sd: float
) -> None:
    # Reference: scipy.stats.truncnorm. 4000 draws: standard error of the mean below 0.02 sd.
    expected = truncnorm((lower - value) / sd, (upper - value) / sd, loc=value, scale=sd)
    drawn = one(value, lower, upper, sd).draw(7, 4000)["a"]
    assert drawn.mean() == pytest.approx(expected.mean(), abs=0.02 * sd)
    assert drawn.std() == pytest.approx(expected.std(), rel=0.03)
    quantiles = np.array([0.05, 0.5, 0.95])
    assert np.quantile(drawn, quantiles) == pytest.approx(expected.ppf(quantiles), abs=0.05 * sd)


def test_the_same_seed_gives_the_same_draws_and_another_seed_others() -> None:
    film = films()["metallised"]
    first, again, other = film.draw(1, 20), film.draw(1, 20), film.draw(2, 20)
    assert all(np.array_equal(first[key], again[key]) for key in first)
    assert not np.array_equal(first["solar_reflectance"], other["solar_reflectance"])


def test_adding_a_parameter_leaves_the_draws_of_the_others_as_they_were() -> None:
    before = one(1.0, 0.0, 2.0, 0.2)
    extra = one(5.0, 0.0, 9.0, 1.0, "b")["b"]
    after = ParameterSet("set", {"b": extra, **before.parameters})
    assert np.array_equal(before.draw(3, 30)["a"], after.draw(3, 30)["a"])


def test_parameters_are_drawn_independently() -> None:
    both = ParameterSet(
        "set", {**one(1, 0, 2, 0.2).parameters, **one(1, 0, 2, 0.2, "b").parameters}
    )
    drawn = both.draw(5, 2000)
    assert abs(np.corrcoef(drawn["a"], drawn["b"])[0, 1]) < 0.08  # 3.5 standard errors


def test_what_has_no_spread_repeats_its_value() -> None:
    assert np.all(one(1.0, 0.0, 2.0, 0.0).draw(1, 5)["a"] == 1.0)


def test_no_draws_at_all_is_refused() -> None:
    with pytest.raises(InputError, match="too few draws"):
        one(1.0, 0.0, 2.0, 0.1).draw(1, 0)


def test_a_cultivar_holds_what_the_species_shares() -> None:
    for cultivar in cultivars().values():
        assert "development_base" in cultivar
        assert cultivar.labels["flowering"] in {"short-day", "day-neutral"}


def test_the_bed_has_physics_and_every_film_has_its_four_optics() -> None:
    assert bed().value("contact_conductance") > 0.0
    optics = ("solar_reflectance", "solar_transmittance")
    for name, film in films().items():
        assert sum(film.value(key) for key in optics) <= 1.0, name
        assert film.value("longwave_emittance") + film.value("longwave_transmittance") <= 1.0, name
        beside = film.labels.get("shoulder")
        assert beside is None or beside in films()
