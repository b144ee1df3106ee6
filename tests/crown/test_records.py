import numpy as np
import pytest

from phenocast.crown import BED_FIELDS, bed_records
from phenocast.errors import InputError
from phenocast.parameters import bed, films, soils

LOAM = "sandy loam"


def records(film, **more):
    one = films()[film]
    shoulder = films()[one.labels["shoulder"]] if "shoulder" in one.labels else None
    return bed_records(one, bed(), soils()[LOAM], **{"shoulder": shoulder, **more})


@pytest.mark.parametrize("film", list(films()))
def test_every_shipped_film_makes_a_record_that_adds_up(film):
    for made in (records(film), records(film, n_draws=200, seed=4)):
        assert made.dtype.names == BED_FIELDS
        for name in BED_FIELDS:
            assert np.all(np.isfinite(made[name]))
        assert np.all(made.solar_reflectance + made.solar_transmittance <= 1.0)
        assert np.all(made.longwave_emittance + made.longwave_transmittance <= 1.0)
        assert np.all(made.conductivity > 0.1)


def test_films_drawn_with_one_seed_share_soil_and_wind():
    black, silver = records("black", n_draws=50, seed=9), records("silver", n_draws=50, seed=9)
    for name in ("wind_calm", "wind_slope", "conductivity", "crown_soil_weight", "sky_offset"):
        assert np.array_equal(black[name], silver[name])
        assert black[name].std() > 0.0
    assert not np.array_equal(black.solar_reflectance, silver.solar_reflectance)
    other = records("black", n_draws=50, seed=10)
    assert not np.array_equal(black.wind_calm, other.wind_calm)


def test_a_shoulder_shares_no_draw_with_its_stripe_but_is_the_black_film_itself():
    striped = records("metallised-striped", n_draws=20, seed=2)
    black = records("black", n_draws=20, seed=2)
    assert np.array_equal(striped.shoulder_solar_reflectance, black.solar_reflectance)
    assert np.all(striped.weight_top > striped.weight_10cm)


def test_wetter_soil_conducts_and_stores_more():
    dry, wet = records("black", water_m3_m3=0.06)[0], records("black", water_m3_m3=0.25)[0]
    assert wet.conductivity > 1.5 * dry.conductivity
    assert wet.heat_capacity > dry.heat_capacity + 0.7e6


def test_plants_beside_the_stripe_see_less_of_it():
    near, far = records("white-striped")[0], records("white-striped", row_offset_m=0.15)[0]
    assert far.weight_top < 0.2 < near.weight_top
    assert far.weight_10cm < near.weight_10cm
    wide = records("white-striped", row_offset_m=0.15, stripe_width_m=0.6)[0]
    assert wide.weight_top > 0.9


def test_what_cannot_be_a_bed_is_refused():
    with pytest.raises(InputError, match="shoulder"):
        records("white-striped", shoulder=None)
    with pytest.raises(InputError, match=r"width.*-0\.1"):
        records("white-striped", stripe_width_m=-0.1)
    with pytest.raises(InputError, match="soil water out of range"):
        records("black", water_m3_m3=0.6)
    two = films()["white"].with_values({"solar_reflectance": 0.9, "solar_transmittance": 0.4})
    with pytest.raises(InputError, match="add to more than 1"):
        bed_records(two, bed(), soils()[LOAM])
    mad = films()["white"].with_values({"longwave_emittance": 1.4})
    with pytest.raises(InputError, match="longwave_emittance out of range"):
        bed_records(mad, bed(), soils()[LOAM])
    from phenocast.parameters import ParameterSet

    bare = ParameterSet("mine", {"solar_reflectance": films()["black"]["solar_reflectance"]})
    with pytest.raises(InputError, match=r"mine.*lacks a number.*solar_transmittance"):
        bed_records(bare, bed(), soils()[LOAM])
