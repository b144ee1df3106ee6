from dataclasses import replace

import numpy as np
import pytest

from phenocast.crown import CROWN, SOIL_10CM, BedRun, bed_temperatures, deep_temperature, run_beds
from phenocast.errors import InputError
from tests.crown.stations import bed_of, station

N = 24 * 40


def first_days():
    whole, _ = station("miami")
    return replace(whole, **{k: v[:N].copy() for k, v in vars(whole).items()})


def temperatures(film="black", cover=0.0, water=0.0, forcing=None, **more):
    forcing = forcing or first_days()
    return bed_temperatures(forcing, np.full(N, cover), np.full(N, water), bed_of(film), **more)


def test_soil_at_5_cm_lies_between_the_upper_layers_and_swings_more_than_10_cm():
    t = temperatures()
    days = {k: np.ptp(v.reshape(-1, 24), axis=1).mean() for k, v in vars(t).items()}
    assert days["film_surface_c"] > days["soil_5cm_c"] > days["soil_10cm_c"]
    assert days["crown_c"] > days["soil_10cm_c"]


def test_a_reflective_film_warms_as_it_ages_and_a_black_one_does_not():
    new, old = (temperatures("metallised", film_age_d=d).crown_c.mean() for d in (0.0, 150.0))
    assert old - new > 0.1
    new, old = (temperatures("black", film_age_d=d).crown_c.mean() for d in (0.0, 150.0))
    assert old == new


def test_leaves_take_the_films_contrast_away():
    def contrast(cover):
        return np.ptp([temperatures(f, cover).crown_c.max() for f in ("black", "white-on-black")])

    assert contrast(0.0) > 2 * contrast(0.7) > 0.0


def test_the_sky_offset_is_added_only_where_longwave_is_an_estimate():
    forcing = first_days()
    record = bed_of("black", sky_offset=20.0)
    none = np.zeros(N)
    plain = bed_temperatures(forcing, none, none, bed_of("black"))
    estimated = bed_temperatures(forcing, none, none, record)
    assert np.all(estimated.film_surface_c > plain.film_surface_c)
    measured = bed_temperatures(replace(forcing, longwave_estimated=none), none, none, record)
    assert np.array_equal(measured.crown_c, plain.crown_c)


def test_the_deep_soil_follows_a_month_of_air():
    air = np.concatenate([np.full(24 * 60, 10.0), np.full(24 * 60, 20.0)])
    deep = deep_temperature(air)
    assert deep[24 * 60 - 1] == pytest.approx(10.0)
    assert deep[24 * 75 - 1] == pytest.approx(15.0)
    assert deep[24 * 90 - 1] == pytest.approx(20.0)
    assert np.all(np.diff(deep) >= -1e-9)


@pytest.mark.parametrize(
    ("name", "value", "message"),
    [
        ("air_c", 99.0, r"hour 7: air is out of range .*99.*-60 to 60 degC"),
        ("wind_m_s", -1.0, r"hour 7: wind is out of range"),
        ("solar_w_m2", np.nan, r"hour 7: solar radiation is missing"),
    ],
)
def test_impossible_weather_is_refused_with_its_hour(name, value, message):
    forcing = first_days()
    getattr(forcing, name)[7] = value
    with pytest.raises(InputError, match=message):
        temperatures(forcing=forcing)


def test_every_fault_is_told_at_once():
    forcing = first_days()
    with pytest.raises(InputError) as told:
        bed_temperatures(forcing, np.full(N, 1.2), np.zeros(N - 1), bed_of("black"))
    assert len(told.value.faults) == 2


def test_beds_side_by_side_are_each_as_if_alone():
    forcing = first_days()
    rng = np.random.default_rng(3)
    beds = []
    for number, film in enumerate(("black", "metallised-striped", "bare-soil", "clear") * 2):
        n = N - 24 * int(rng.integers(5, 20))
        hour = np.arange(n) % 24
        water = np.where((hour > 9) & (hour < 14) & (number % 2 == 0), 2.5, 0.0)
        draws = np.concatenate([[bed_of(film, sky_offset=k)] for k in (0.0, 9.0, -5.0)])
        start = int(rng.integers(0, N - n))
        beds.append(BedRun(start, np.linspace(0.0, 0.6, n), water, 10.0 * number, draws))
    found = {}
    for bed, draw, temperatures in run_beds(forcing, beds):
        assert (bed, draw) not in found
        found[bed, draw] = temperatures
    assert set(found) == {(bed, draw) for bed in range(8) for draw in range(3)}
    for (number, draw), (crown, soil) in found.items():
        bed = beds[number]
        alone = bed_temperatures(
            forcing.part(slice(bed.first_hour, bed.first_hour + len(bed.cover))),
            bed.cover,
            bed.sprinkling_mm_h,
            bed.records[draw],
            film_age_d=bed.film_age_d,
        )
        assert crown == pytest.approx(alone.crown_c, abs=1e-9)
        assert soil == pytest.approx(alone.soil_10cm_c, abs=1e-9)


def test_what_is_kept_comes_in_the_order_asked_for():
    bed = BedRun(0, np.zeros(N), np.zeros(N), 0.0, np.atleast_1d(bed_of("black")))
    ((_, _, two),) = run_beds(first_days(), [bed], kept=(SOIL_10CM, CROWN))
    alone = temperatures()
    assert np.array_equal(two, [alone.soil_10cm_c, alone.crown_c])
