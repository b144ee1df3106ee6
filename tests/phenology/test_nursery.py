"""The nursery leg: what the weeks before planting do to a transplant."""

from datetime import date, timedelta

import numpy as np
import pytest

from phenocast.errors import InputError
from phenocast.harvest import grow
from phenocast.parameters import cultivars
from phenocast.phenology import nursery_state, plant_from_nursery
from phenocast.phenology.chamber import chamber_days
from tests.phenology.chamber import plant_of
from tests.phenology.climates import climate_days

# a nursery at 45 N, monthly means recalled from memory
NORTH_C = [-6.0, -5.0, 0.0, 6.5, 13.0, 18.0, 20.5, 19.5, 15.0, 9.0, 3.0, -3.0]


def _lifted(day):
    own = cultivars()["Basalt"]
    days = climate_days(NORTH_C, 11.0, 45.0, day - timedelta(days=80), 80, own)
    return nursery_state(days, plant_of("Basalt", "bare-root"))


def test_plants_lifted_later_bring_more():
    dates = [date(2025, 9, 10), date(2025, 9, 25), date(2025, 10, 10)]
    states = [_lifted(day) for day in dates]
    trusses = [s.trusses for s in states]
    induction = [s.induction for s in states]
    assert trusses == sorted(trusses)
    assert induction == sorted(induction)
    assert trusses[0] < 0.2
    assert trusses[-1] > 0.8


def test_a_long_day_nursery_gives_an_unconditioned_plant():
    state = nursery_state(
        chamber_days(60, 18.0, 18.0, cultivar=cultivars()["Basalt"]), plant_of("Basalt", "plug")
    )
    assert state.trusses < 0.02
    assert state.induction < 0.05


def test_a_truss_that_emerged_is_lost_in_lifting():
    own = cultivars()["Basalt"]
    short, long = (
        nursery_state(chamber_days(n, 16.0, 10.0, cultivar=own), plant_of("Basalt", "plug"))
        for n in (40, 120)
    )
    assert max(short.progress) <= 1.0
    assert max(long.progress) <= 1.0
    assert short.trusses > 0.5


def test_the_field_goes_on_where_the_nursery_ended():
    """Days in the nursery and then in the field are the days of one season in one place."""
    own = cultivars()["Basalt"]
    plant = plant_of("Basalt", "plug", establishment_development=0.0)
    whole = grow(chamber_days(120, 15.0, 11.0, cultivar=own), plant)
    state = nursery_state(chamber_days(25, 15.0, 11.0, cultivar=own), plant)
    after = grow(chamber_days(95, 15.0, 11.0, cultivar=own), plant_from_nursery(plant, state)[0])
    # the nursery's cohorts are put together into trusses, so a day or two is lost
    assert after.anthesis + 25.0 == pytest.approx(whole.anthesis, abs=2.0)
    assert after.first_ripe + 25.0 == pytest.approx(whole.first_ripe, abs=2.0)


def test_a_bad_table_is_refused():
    days = chamber_days(30, 15.0, 11.0)
    days[0, 4] = np.nan
    with pytest.raises(InputError, match="crown_development"):
        nursery_state(days, plant_of("Basalt", "plug"))
