"""What must hold for the plant whatever the weather: Hypothesis."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from phenocast.harvest import grow, week_labels
from phenocast.parameters import cultivars, transplants
from phenocast.phenology import CULTIVAR_FIELDS, TRANSPLANT_FIELDS
from phenocast.phenology.chamber import chamber_days, day_table
from phenocast.phenology.daily import CHILL, CROWN_HEAT_30, FLOWER_MIN
from phenocast.phenology.prefix import COHORT_DAYS, sum_weather
from phenocast.phenology.work import COHORT_ENDS, make_work
from tests.phenology.chamber import plant_of
from tests.phenology.climates import climate_days

N_DAYS = 140
MILD_C = [12.0, 13.0, 15.0, 17.0, 20.0, 23.0, 25.0, 25.5, 24.0, 20.0, 16.0, 13.0]
names = st.sampled_from(sorted(cultivars()))
types = st.sampled_from(sorted(transplants()))


def _days(temperatures, cultivar):
    own = cultivars()[cultivar]
    hours = np.ones(24)
    # days that are on the right side of the critical photoperiod at every temperature
    photoperiod = 9.0 if own.labels["flowering"] == "short-day" else 17.0
    return np.column_stack(
        [day_table(t * hours, t * hours, photoperiod, 15.0, 0.5, own) for t in temperatures]
    )


def _cohort_ends(daily):
    """Days on which the flowers gathered so far become a cohort; the weather alone sets them."""
    work = make_work(daily.shape[1])
    sum_weather(daily, work)
    return work.weather[COHORT_ENDS, : daily.shape[1]].copy()


@given(
    cultivar=names,
    transplant=types,
    temperatures=arrays(float, N_DAYS, elements=st.floats(8.0, 15.5)),
    warmed=st.integers(0, N_DAYS - 1),
    by=st.floats(0.0, 8.0),
)
@example("Marl", "plug", np.full(N_DAYS, 13.0), 0, 1.0)  # cohorts end on other days: 1.8 d later
def test_warming_a_day_below_the_optimum_never_delays_a_stage(
    cultivar, transplant, temperatures, warmed, by
):
    warmer = temperatures.copy()
    warmer[warmed] = min(warmer[warmed] + by, 16.0)
    plant = plant_of(cultivar, transplant)
    days = [_days(t, cultivar) for t in (temperatures, warmer)]
    before, after = (grow(one, plant) for one in days)
    # Where a warmer day moves the days on which cohorts end, a date of emergence moves with them,
    # by half a cohort at most (with cohorts of one day none is delayed).
    alike = np.array_equal(*(_cohort_ends(one) for one in days))
    for stage in ("flower_initiation", "emergence", "anthesis"):
        slack = 1e-9 if alike or stage == "flower_initiation" else COHORT_DAYS / 2
        assert getattr(after, stage) <= getattr(before, stage) + slack, stage


@given(cultivar=names, transplant=types, first=st.dates(date(2024, 1, 1), date(2028, 1, 1)))
def test_weeks_add_up_to_the_season_and_marketable_is_part_of_ripe(cultivar, transplant, first):
    season = grow(
        chamber_days(170, 17.0, 12.0, cultivar=cultivars()[cultivar]),
        plant_of(cultivar, transplant),
    )
    labels, week_of_day = week_labels(first, season.n_days)
    weekly = np.bincount(week_of_day, season.ripe_g, len(labels))
    assert weekly.sum() == pytest.approx(season.ripe_g.sum(), rel=1e-12)
    assert np.all(season.marketable_g <= season.ripe_g + 1e-12)
    assert np.all(season.ripe_g >= 0.0)


@given(
    cultivar=names,
    transplant=types,
    temperature=st.floats(5.0, 32.0),
    photoperiod=st.floats(8.0, 24.0),
)
@example(cultivar="Gneiss", transplant="plug", temperature=22.0, photoperiod=14.0)
def test_nothing_is_made_from_nothing(cultivar, transplant, temperature, photoperiod):
    plant = plant_of(cultivar, transplant)
    season = grow(
        chamber_days(250, temperature, photoperiod, cultivar=cultivars()[cultivar]), plant
    )
    brought = plant.trusses_at_planting * plant.flowers_per_truss
    assert season.flowers_open.sum() <= brought + season.flowers_initiated.sum() + 1e-9
    assert season.ripe_fruit.sum() <= plant.set_potential * season.flowers_open.sum() + 1e-9
    assert np.all((season.induced_share >= 0.0) & (season.induced_share <= 1.0))
    assert np.all((season.resting_share >= 0.0) & (season.resting_share <= 1.0))
    assert season.emergence <= season.anthesis
    # where few plants flower at all, they may bear half a fruit per plant before half a truss of
    # each has emerged: ripe fruit only has to come after the first open flowers
    if np.isfinite(season.first_ripe):
        assert season.first_ripe > np.argmax(season.flowers_open > 0.0)


@given(
    cultivar=names,
    night=st.integers(60, 180),
    cold=st.floats(-12.0, 2.0),
    colder=st.floats(0.0, 8.0),
)
def test_a_colder_night_never_adds_a_flower(cultivar, night, cold, colder):
    days = chamber_days(220, 15.0, 11.0, cultivar=cultivars()[cultivar])
    plant = plant_of(cultivar, "conditioned-plug", load_largest=1e12, size_decline=0.0)
    fruit = []
    for minimum in (cold, cold - colder):
        days[FLOWER_MIN, night] = minimum
        fruit.append(grow(days, plant).ripe_fruit.sum())
    assert fruit[1] <= fruit[0] + 1e-9


@given(cultivar=names, low=st.floats(0.0, 3.0), more=st.floats(0.0, 3.0))
def test_a_more_sensitive_cultivar_never_gains_from_heat(cultivar, low, more):
    days = chamber_days(220, 22.0, 11.0, cultivar=cultivars()[cultivar])
    days[CROWN_HEAT_30, :40] = 20.0
    flowers = [
        grow(days, plant_of(cultivar, "bare-root", heat_sensitivity=s)).flowers_open.sum()
        for s in (low, low + more)
    ]
    assert flowers[1] <= flowers[0] + 1e-9


DATES = ("flower_initiation", "emergence", "anthesis", "first_ripe", "first_pick")


@pytest.mark.parametrize("transplant", ["plug", "bare-root"])
@pytest.mark.parametrize("cultivar", ["Basalt", "Tuff"])
@pytest.mark.parametrize("field", [*CULTIVAR_FIELDS, *TRANSPLANT_FIELDS])
def test_dates_are_continuous_in_every_parameter(field, cultivar, transplant):
    """A hundredth of a percent of a parameter moves no date by as much as a tenth of a day."""
    planting = date(2025, 10, 10)
    days = _mild(cultivar, planting)
    plant = plant_of(cultivar, transplant)
    centre = float(plant[field])
    step = 1e-4 * (abs(centre) if centre else 1.0)
    here = grow(days, plant)
    there = grow(days, plant_of(cultivar, transplant, **{field: centre + step}))
    for stage in DATES:
        a, b = getattr(here, stage), getattr(there, stage)
        if stage == "flower_initiation" and field == "induction_carried":
            continue  # a plant that comes induced has the date 0 by definition
        assert (np.isinf(a) and np.isinf(b)) or abs(a - b) < 0.1, (stage, a, b)


_CACHE = {}


def _mild(cultivar, planting):
    if cultivar not in _CACHE:
        _CACHE[cultivar] = climate_days(
            MILD_C, 10.0, 33.0, planting, 250, cultivars()[cultivar], crown_above_c=2.0
        )
    return _CACHE[cultivar]


def test_harvest_is_continuous_from_mild_to_cold_winters():
    """As chill grows from none to much there is no step: four times finer, steps are a quarter."""
    planting = date(2025, 10, 1)
    cold_c = [6.0, 7.0, 11.0, 15.0, 19.0, 23.0, 25.0, 25.0, 21.0, 15.0, 10.0, 7.0]
    days = climate_days(cold_c, 10.0, 36.0, planting, 260, cultivars()["Basalt"], crown_above_c=1.0)
    plant = plant_of("Basalt", "plug")
    chill = days[CHILL].copy()
    in_spring = (date(2026, 4, 1) - planting) // timedelta(days=1)

    def course(n):
        fruit = []
        for scale in np.linspace(0.0, 1.5, n):
            days[CHILL] = np.minimum(chill * scale, 24.0)
            fruit.append(grow(days, plant).ripe_fruit)
        total = np.sum(fruit, axis=1)
        return total, np.sum(np.array(fruit)[:, in_spring:], axis=1) / total

    coarse, fine = course(121), course(481)
    for wide, narrow in zip(coarse, fine, strict=True):
        assert np.abs(np.diff(narrow)).max() < 0.35 * np.abs(np.diff(wide)).max()
    # the winters differ: rest takes the flowers that an awake plant goes on forming
    assert coarse[0][-1] < 0.8 * coarse[0][0]
