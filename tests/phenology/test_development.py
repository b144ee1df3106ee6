import numpy as np
import pytest

from phenocast.errors import InputError
from phenocast.harvest import grow
from phenocast.parameters import cultivars
from phenocast.phenology import check_daily
from phenocast.phenology import daily as rows
from phenocast.phenology.chamber import chamber_days
from phenocast.phenology.growth import photoperiod_response
from phenocast.phenology.induction import (
    photoperiod_response_long_day_promoted,
    photoperiod_response_short_day,
    share_induced,
)
from phenocast.phenology.steps import exponential
from tests.phenology.chamber import chamber, plant_of


def test_dates_of_a_brought_truss_by_hand():
    """15 degC is 12 degC d a day: 0.6 x 270 to emergence, 180 to anthesis, 400 to ripe."""
    season = chamber(
        "Basalt",
        "cold-stored",
        200,
        15.0,
        12.0,
        plant={
            "establishment_development": 0.0,
            "ripening_spread": 0.2,
            "trusses_at_planting": 1.0,
            "set_potential": 1.0,
            "load_largest": 1e9,
        },
    )
    assert season.emergence == pytest.approx(162.0 / 12.0, abs=0.6)
    assert season.anthesis - season.emergence == pytest.approx(180.0 / 12.0, abs=0.8)
    assert season.first_ripe - season.anthesis == pytest.approx(400.0 / 12.0, abs=0.8)


def test_loop_and_array_functions_agree_on_photoperiod():
    short, neutral = plant_of("Basalt", "plug"), plant_of("Schist", "plug")
    crown, hours = (
        grid.ravel()
        for grid in np.meshgrid(
            [5.0, 9.0, 12.0, 18.0, 21.0, 25.0, 30.0], [8.0, 11.0, 13.0, 13.5, 16.0, 24.0]
        )
    )
    response = [photoperiod_response(one, c, short) for one, c in zip(hours, crown, strict=True)]
    expected = photoperiod_response_short_day(
        hours,
        crown,
        short.critical_photoperiod_18,
        short.critical_photoperiod_slope,
        short.photoperiod_width,
    )
    assert response == pytest.approx(expected, abs=1e-12)
    response = [photoperiod_response(one, c, neutral) for one, c in zip(hours, crown, strict=True)]
    expected = [
        float(
            photoperiod_response_long_day_promoted(
                one,
                c,
                neutral.critical_photoperiod_18,
                neutral.photoperiod_width,
                neutral.long_day_neutral,
                neutral.long_day_plateau_from,
                neutral.long_day_plateau_to,
                neutral.long_day_obligate,
                neutral.long_day_plateau,
            )
        )
        for one, c in zip(hours, crown, strict=True)
    ]
    assert response == pytest.approx(expected, abs=1e-12)


def test_the_exponential_of_the_kernels_is_the_librarys():
    x = np.linspace(-40.0, 40.0, 2001)
    ours = np.array([exponential(one) for one in x])
    assert ours == pytest.approx(np.exp(x), rel=1e-10)
    assert exponential(1000.0) == exponential(40.0)


def test_share_induced_is_that_of_the_array_function():
    season = chamber("Basalt", "plug", 30, 17.0, 8.0)
    plant = plant_of("Basalt", "plug")
    rate = photoperiod_response(8.0, 17.0, plant)
    expected = share_induced(
        rate * np.arange(1, 31), plant.induction_requirement, plant.induction_spread
    )
    capped = rate * np.arange(1, 31) < plant.induction_store * plant.induction_requirement
    assert np.allclose(season.induced_share[capped], expected[capped], atol=1e-12)


def test_stages_that_are_not_reached_are_infinite():
    season = chamber("Basalt", "plug", 100, 18.0, 20.0)
    for stage in ("flower_initiation", "emergence", "anthesis", "first_ripe", "first_pick"):
        assert np.isinf(getattr(season, stage)), stage
    assert season.ripe_g.sum() < 1e-3 * 20.0


def test_heat_after_planting_kills_plants():
    days = chamber_days(120, 18.0, 12.0, cultivar=cultivars()["Basalt"])
    plant = plant_of("Basalt", "conditioned-plug")
    cool = grow(days, plant)
    days[rows.CROWN_HEAT_33, :14] = 60.0
    hot = grow(days, plant)
    assert cool.surviving_share > 0.98
    assert hot.surviving_share < 0.75
    assert hot.ripe_g.sum() == pytest.approx(
        cool.ripe_g.sum() * hot.surviving_share / cool.surviving_share
    )


def test_heat_after_the_first_fortnight_kills_no_plant():
    days = chamber_days(120, 18.0, 12.0)
    days[rows.CROWN_HEAT_33, 14:] = 60.0
    assert grow(days, plant_of("Basalt", "plug")).surviving_share > 0.98


def test_heat_costs_vigour_and_it_returns():
    days = chamber_days(200, 18.0, 12.0)
    days[rows.CROWN_HEAT_30, 20:40] = 60.0
    vigour = grow(days, plant_of("Marl", "plug")).vigour
    assert vigour[19] == 1.0
    assert 0.4 < vigour[39] < 0.8
    assert vigour[39] < vigour[100] < vigour[199] < 1.0


def test_a_longer_day_speeds_emergence_a_little():
    short, long = (chamber("Tuff", "conditioned-plug", 120, 15.0, p) for p in (12.0, 16.0))
    assert 0.85 < long.emergence / short.emergence < 1.0


@pytest.mark.parametrize(
    ("change", "told"),
    [
        (lambda d: d[:5], "15 rows"),
        (lambda d: d.astype(np.float32), "float64"),
        (lambda d: _with(d, rows.AIR_MEAN, np.nan), "air_mean is missing"),
        (lambda d: _with(d, rows.PHOTOPERIOD, 25.0), "photoperiod"),
        (lambda d: _with(d, rows.COVER, -0.1), "cover"),
    ],
)
def test_a_bad_table_is_refused(change, told):
    with pytest.raises(InputError, match=told):
        check_daily(change(chamber_days(10, 15.0, 12.0)))


def _with(days, row, value):
    days[row, 3] = value
    return days
