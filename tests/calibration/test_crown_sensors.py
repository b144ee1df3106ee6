"""Films, soils and crowns fitted to sensors: invented truth with noise, and bad input."""

from __future__ import annotations

import tomllib
from functools import cache

import numpy as np
import pandas as pd
import pytest
from sklearn.base import clone
from sklearn.exceptions import NotFittedError
from sklearn.model_selection import GroupKFold, cross_val_score
from sklearn.utils import estimator_checks

from phenocast.calibration import SENSORS, CrownSensorCalibrator, sensor_rows
from phenocast.crown import bed_forcing, bed_records, bed_temperatures
from phenocast.crown.soil import damping_depth, soil_conductivity, soil_heat_capacity
from phenocast.errors import InputError
from phenocast.io import read_film, read_season, template, template_file, write_film
from phenocast.parameters import ParameterSet, bed, films, soils
from phenocast.season import Site
from phenocast.weather.hourly import HourlyWeather
from phenocast.weather.sun import clear_sky_w_m2
from tests.crown.stations import station

N = 30 * 24
HOURS = (np.datetime64("2001-10-01T05") + np.arange(N).astype("timedelta64[h]"))[:, None]
SITE = Site("Miami", 25.8, -80.27, 2.0, "Etc/GMT+5")
FILM = {"solar_reflectance": 0.58, "longwave_emittance": 0.75}
BED = {
    "wind_slope": 5.6, "sky_offset": -12.0, "air_above_share": 0.15, "crown_soil_weight": 0.45,
    "crown_radiant_weight": 0.12, "crown_solar_gain": 0.0009,
}  # fmt: skip
TRUTH = {**FILM, **BED, "water": 0.10, "contact_conductance": 20.0, "deep_above_air": 1.0}
NOISE_C = 0.3


@cache
def october() -> HourlyWeather:
    """A month of the typical year of Miami, from 1 October, local midnight."""
    forcing, _ = station("miami")
    a = slice(92 * 24, 92 * 24 + N)
    return HourlyWeather(
        HOURS[:, 0], forcing.air_c[a], forcing.vapour_pressure_kpa[a], forcing.wind_m_s[a],
        forcing.solar_w_m2[a],
        np.full(N, np.nan), np.zeros(N), np.zeros(N, dtype=np.uint8), SITE,
    )  # fmt: skip


DAYS = np.arange(N) // 24


def bed_of(film=FILM, physics=BED, water=0.10, name="white-on-black", cover=None) -> np.ndarray:
    """True temperatures [n, 5] of a bed, by the path that a season takes."""
    shoulder = films().get(films()[name].labels.get("shoulder"))
    record = bed_records(
        films()[name].with_values(film), bed().with_values(physics), soils()["sandy loam"],
        shoulder=shoulder, water_m3_m3=water,
    )[0]  # fmt: skip
    weather = october()
    got = bed_temperatures(
        bed_forcing(weather, clear_sky_w_m2(weather.time_utc, SITE)),
        np.zeros(N) if cover is None else cover, np.zeros(N), record,
    )  # fmt: skip
    return np.column_stack([getattr(got, sensor) for sensor in SENSORS])


def readings(seed=1, **truth) -> pd.DataFrame:
    rng = np.random.default_rng(seed)
    return pd.DataFrame(bed_of(**truth) + rng.normal(0.0, NOISE_C, (N, 5)), columns=list(SENSORS))


def calibrator(**settings) -> CrownSensorCalibrator:
    return CrownSensorCalibrator(october(), **{"film": "white-on-black", **settings})


@pytest.fixture(scope="module")
def fitted() -> CrownSensorCalibrator:
    return calibrator(name="south").fit(HOURS, readings())


# ---- known truth -----------------------------------------------------------------------------


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_known_film_and_bed_are_recovered(seed):
    model = calibrator().fit(HOURS, readings(seed))
    assert set(model.values_) == set(TRUTH)
    off = {k: (model.values_[k] - true) / model.sds_[k] for k, true in TRUTH.items()}
    assert abs(off["solar_reflectance"]) < 2.0
    # Eleven numbers, three seeds: three standard deviations for each of the others.
    assert max(map(abs, off.values())) < 3.0, off
    prior = films()["white-on-black"].value("solar_reflectance")
    assert abs(model.values_["solar_reflectance"] - 0.58) < 0.6 * abs(prior - 0.58)
    assert model.converged_


def test_reflectance_is_sharp_where_conductance_is_known():
    # What makes the spread of reflectance wide is conductance, not the readings.
    known = ("wind_calm", "wind_slope", "contact_conductance", "stable_damping", "wind_stable",
             "deep_above_air")  # fmt: skip
    physics = bed().with_values(BED)
    tables = physics.to_dict()
    for key in known:
        tables[key] = {**tables[key], "sd": 0.0}
    from phenocast.parameters import parameter_set

    model = calibrator(physics=parameter_set("bed", tables, "bed")).fit(HOURS, readings())
    assert model.sds_["solar_reflectance"] < 0.02
    assert abs(model.values_["solar_reflectance"] - 0.58) < 2.0 * model.sds_["solar_reflectance"]
    assert model.held_["wind_slope"] == "it has no spread: taken as known"


def test_days_held_out_are_better_predicted_and_down_to_the_noise(fitted):
    overall = fitted.scores_.overall.set_index("sensor")
    assert (overall.rmse_fitted < overall.rmse_prior).all()
    assert overall.rmse_fitted.max() < 1.3 * NOISE_C
    assert overall.bias_fitted.abs().max() < 0.15
    assert set(fitted.held_out_days_).isdisjoint(fitted.fit_days_)
    assert len(fitted.held_out_days_) == 7  # a quarter of the 27 days after settling


def test_scores_by_hour_and_month_are_of_the_days_held_out(fitted):
    scores = fitted.scores_
    assert len(scores.by_hour) == 5 * 24
    assert (scores.by_hour.n == 7).all()
    assert set(scores.by_month.month) == {10}
    film = scores.by_hour[scores.by_hour.sensor == "film_surface_c"]
    assert np.sqrt((film.n * film.rmse_fitted**2).sum() / film.n.sum()) == pytest.approx(
        scores.overall.rmse_fitted[0]
    )
    # Too little reflectance before: the error sits at noon, local time, not at UTC noon.
    assert film.set_index("hour").bias_prior.idxmax() in range(10, 15)


def test_soil_damping_comes_from_two_depths_whatever_the_film():
    y = readings()[["soil_5cm_c", "soil_10cm_c"]]
    model = calibrator(film="black").fit(HOURS, y)
    ground = soils()["sandy loam"]
    true = damping_depth(
        soil_conductivity(ground.value("bulk_density"), ground.value("clay_share"), 0.10),
        soil_heat_capacity(ground.value("bulk_density"), 0.0, 0.10),
    )
    assert model.damping_depth_ == pytest.approx(float(true), abs=2.0 * model.damping_depth_sd_)
    assert model.damping_depth_sd_ < 0.005
    assert model.values_["water"] == pytest.approx(0.10, abs=2.0 * model.sds_["water"])


def test_wet_and_dry_soil_that_damp_alike_are_not_told_apart():
    # From 0.13 to 0.25 of water the damping depth of sandy loam changes by 2 % only.
    model = calibrator().fit(HOURS, readings(water=0.20))
    assert model.sds_["water"] > 0.02
    assert model.damping_depth_ == pytest.approx(0.1194, rel=0.03)


def test_without_a_film_sensor_only_the_ratio_is_told():
    y = readings().drop(columns=["film_surface_c", "air_above_film_c", "crown_c"])
    model = calibrator().fit(HOURS, y)
    assert model.ratio_only_
    assert "wind_slope" not in model.values_
    assert "only absorptance over conductance" in model.held_["wind_slope"]
    assert "Only this ratio is identifiable" in model.report()
    # Honest: the reflectance is no surer than the conductance that was assumed.
    assert model.sds_["solar_reflectance"] > 0.03
    whole = calibrator().fit(HOURS, readings())
    assert not whole.ratio_only_
    assert abs(model.ratio_ - whole.ratio_) < 2.0 * np.hypot(model.ratio_sd_, whole.ratio_sd_)
    assert (model.scores_.overall.rmse_fitted < model.scores_.overall.rmse_prior).all()


# ---- sensors that are not there ----------------------------------------------------------------


@pytest.mark.parametrize(
    ("sensor", "told", "held"),
    [
        ("film_surface_c", "solar_reflectance", "crown_soil_weight"),
        ("air_above_film_c", "air_above_share", "solar_reflectance"),
        ("crown_c", "crown_soil_weight", "water"),
        ("soil_5cm_c", "solar_reflectance", "water"),
        ("soil_10cm_c", "solar_reflectance", "longwave_emittance"),
    ],
)
def test_one_sensor_alone(sensor, told, held):
    model = calibrator().fit(HOURS, readings()[[sensor]])
    assert told in model.values_
    assert model.held_[held]
    assert f"not fitted: {held}" in model.report()
    (row,) = model.scores_.overall.itertuples()
    assert row.sensor == sensor
    # Of air over a wrong film no share makes a better prediction; it must not make a worse one.
    assert row.rmse_fitted < row.rmse_prior + (0.01 if sensor == "air_above_film_c" else 0.0)
    assert np.isfinite(model.predict(HOURS)).all()


def test_the_fit_bears_readings_that_are_missing_here_and_there():
    y = readings()
    y = y.mask(np.random.default_rng(3).random(y.shape) < 0.3)
    y.loc[DAYS == 9] = np.nan
    model = calibrator().fit(HOURS, y)
    assert set(model.values_) == set(TRUTH)
    for key, value in model.values_.items():
        assert abs(value - TRUTH[key]) < 3.0 * model.sds_[key], key
    assert np.datetime64("2001-10-10") not in {*model.fit_days_, *model.held_out_days_}


def test_weights_of_the_crown_are_shares():
    # A crown that follows the air asks for less weight of the soil than its bound allows.
    y = readings(physics={**BED, "crown_soil_weight": 0.2, "crown_solar_gain": 0.0})
    model = calibrator().fit(HOURS, y - [0.0, 0.0, 1.0, 0.0, 0.0])
    soil, radiant = model.values_["crown_soil_weight"], model.values_["crown_radiant_weight"]
    assert soil >= 0.0
    assert radiant >= 0.0
    assert 1.0 - soil - radiant >= 0.0
    assert set(model.at_bound_) & {"crown_soil_weight", "crown_radiant_weight", "crown_solar_gain"}


def test_a_number_at_its_bound_is_named():
    # Brighter than any white-on-black film is thought to be: 0.65 at most.
    known = {"wind_slope": 5.0, "sky_offset": 0.0}
    model = calibrator().fit(HOURS, readings(film={"solar_reflectance": 0.80}, physics=known))
    assert model.at_bound_["solar_reflectance"] == 0.65
    assert "AT ITS BOUND 0.65" in model.report()
    assert "at its bound" in model.film_["solar_reflectance"].where


def test_measured_longwave_leaves_no_offset_to_fit():
    weather = october()
    sky = bed_forcing(weather, clear_sky_w_m2(weather.time_utc, SITE)).longwave_down_w_m2
    measured = HourlyWeather(**{**vars(weather), "longwave_down_w_m2": sky})
    model = CrownSensorCalibrator(measured, film="white-on-black").fit(HOURS, readings())
    assert model.held_["sky_offset"] == "the longwave of the sky was measured"


def test_under_a_striped_film_soil_columns_mix():
    model = CrownSensorCalibrator(october(), film="white-striped")
    model.fit(HOURS, readings(film={"solar_reflectance": 0.58}, name="white-striped"))
    assert model.held_["water"] == "under a striped film two soil columns mix"
    assert model.film_.labels["shoulder"] == "black"
    assert model.values_["solar_reflectance"] == pytest.approx(
        0.58, abs=2.0 * model.sds_["solar_reflectance"]
    )


def test_leaves_over_the_film_are_reckoned_with():
    cover = np.linspace(0.1, 0.7, N)
    y = readings(cover=cover)
    model = calibrator(cover=cover).fit(HOURS, y)
    assert abs(model.values_["solar_reflectance"] - 0.58) < 2.0 * model.sds_["solar_reflectance"]
    assert model.score(HOURS, y) > calibrator().fit(HOURS, y).score(HOURS, y) + 0.05


# ---- bad input ---------------------------------------------------------------------------------


def test_too_few_days_are_refused_with_how_many_it_takes():
    with pytest.raises(InputError, match=r"too few days .*6 or more after the first 3"):
        calibrator().fit(HOURS[: 8 * 24], readings()[: 8 * 24])


@pytest.mark.parametrize(
    ("settings", "change", "message"),
    [
        ({"film": "blak"}, None, "did you mean 'black'"),
        ({"soil": "sandy lome"}, None, "did you mean 'sandy loam'"),
        ({"held_out_share": 0.9}, None, "held_out_share"),
        ({"cover": np.zeros(5)}, None, "not a value for every hour"),
        ({"cover": np.full(N, np.nan)}, None, "missing or out of range"),
        ({}, lambda X, y: (X + np.timedelta64(400, "D"), y), "readings have no weather"),
        ({}, lambda X, y: (np.zeros((N, 1)), y), "not one column of hours"),
        ({}, lambda X, y: (X.astype("datetime64[m]") + 5, y), "not a full hour"),
        ({}, lambda X, y: (np.repeat(X[:360], 2, axis=0), y), "an hour comes twice"),
        ({}, lambda X, y: (X, y[:-1]), "y does not fit X"),
        ({}, lambda X, y: (X, y * np.nan), "no reading at all"),
        ({}, lambda X, y: (X, y * 1.8 + 40.0), "readings cannot be"),
        ({}, lambda X, y: (X, y.rename(columns={"crown_c": "crown"})), "did you mean 'crown_c'"),
    ],
)  # fmt: skip
def test_what_cannot_be_is_refused(settings, change, message):
    X, y = HOURS, readings()
    with pytest.raises(InputError, match=message):
        calibrator(**settings).fit(*((X, y) if change is None else change(X, y)))


def test_sensor_table_of_a_block_becomes_rows():
    table = pd.DataFrame(
        {
            "block": ["south"] * 3 + ["north"],
            "time_utc": pd.to_datetime(["2001-10-02 04:00", "2001-10-02 04:30",
                                        "2001-10-02 05:00", "2001-10-02 05:00"]),
            "crown_c": [20.0, 22.0, np.nan, 30.0],
            "soil_5cm_c": [21.0, np.nan, 23.0, 30.0],
        }
    )  # fmt: skip
    rows = sensor_rows(table, SITE, "south")
    assert rows.readings["crown_c"].tolist()[0] == 21.0
    assert np.isnan(rows.readings["crown_c"][1])
    assert rows.readings["soil_5cm_c"].tolist() == [21.0, 23.0]
    assert rows.days.astype(str).tolist() == ["2001-10-01", "2001-10-02"]
    with pytest.raises(InputError, match="several blocks"):
        sensor_rows(table, SITE)
    with pytest.raises(InputError, match="did you mean 'south'"):
        sensor_rows(table, SITE, "sout")


# ---- scikit-learn ------------------------------------------------------------------------------


def test_cross_validation_by_whole_days():
    y = readings()
    model = calibrator(held_out_share=0.0)
    scores = cross_val_score(model, HOURS, y, groups=DAYS, cv=GroupKFold(3))
    assert len(scores) == 3
    assert (-scores < 1.2 * NOISE_C).all()
    assert not hasattr(model, "values_")
    with pytest.raises(NotFittedError):
        clone(model).predict(HOURS)


def test_the_order_of_rows_does_not_matter_and_a_fit_repeats(fitted):
    turned = np.random.default_rng(5).permutation(N)
    y = readings()
    again = clone(fitted).fit(HOURS[turned], y.iloc[turned])
    assert again.values_ == pytest.approx(fitted.values_, rel=1e-6)
    assert clone(fitted).fit(HOURS, y).values_ == fitted.values_
    assert again.predict(HOURS[turned]) == pytest.approx(fitted.predict(HOURS)[turned], abs=1e-5)


def test_score_is_minus_the_rmse_over_all_readings(fitted):
    y = readings()
    off = fitted.predict(HOURS) - y.to_numpy()
    assert fitted.score(HOURS, y) == pytest.approx(-np.sqrt(np.mean(off**2)))
    weight = (DAYS == 4).astype(float)
    assert fitted.score(HOURS, y, weight) == pytest.approx(-np.sqrt(np.mean(off[DAYS == 4] ** 2)))


@pytest.mark.parametrize(
    "check",
    [
        estimator_checks.check_parameters_default_constructible,
        estimator_checks.check_no_attributes_set_in_init,
        estimator_checks.check_get_params_invariance,
        estimator_checks.check_set_params,
        estimator_checks.check_estimators_unfitted,
    ],
)
def test_generic_checks_of_scikit_learn(check):
    # The others fit invented numbers: they are no hours of any weather and are refused, with an
    # InputError and its faults where those checks expect ValueError; NaN in y is a missing reading.
    check("CrownSensorCalibrator", CrownSensorCalibrator())


# ---- the film as a file ------------------------------------------------------------------------


def test_film_file_goes_into_a_season_and_gives_the_same_bed(fitted, tmp_path):
    write_film(tmp_path / "south.toml", fitted.film_, remarks=[fitted.report()])
    for name in ("season", "weather"):
        (tmp_path / template_file(name)).write_text(template(name))
    place = tmp_path / "season.toml"
    text = place.read_text() + '\n[film.tried]\nfile = "south.toml"\n'
    old = text.split('\nfilm = "')[1].split('"')[0]
    place.write_text(text.replace(f'\nfilm = "{old}"', '\nfilm = "tried"', 1))
    season = read_season(place)
    film = season.film("tried")
    assert season.blocks[0].film == "tried"
    assert {**film.parameters} == {**fitted.film_.parameters}
    record = bed_records(film, bed(), soils()["sandy loam"], water_m3_m3=fitted.values_["water"])[0]
    weather = october()
    got = bed_temperatures(
        bed_forcing(weather, clear_sky_w_m2(weather.time_utc, SITE)), np.zeros(N), np.zeros(N),
        record,
    )  # fmt: skip
    assert got.crown_c == pytest.approx(fitted.predict(HOURS)[:, 2], abs=0.05)
    # Draws of a forecast take the fitted spread.
    drawn = bed_records(film, bed(), soils()["sandy loam"], n_draws=200, seed=1)
    assert np.std(drawn.air_above_share) == pytest.approx(fitted.sds_["air_above_share"], rel=0.1)


def test_fitted_numbers_carry_certificates(fitted):
    table = tomllib.loads(fitted.film_toml())["film"]["south"]
    of_the_weeks = {"water", "deep_above_air"}
    assert set(fitted.values_) - set(table) == of_the_weeks
    assert f"soil_water_m3_m3 = {fitted.values_['water']:.3f}" in table["description"]
    for name, value in fitted.values_.items():
        if name in of_the_weeks:
            continue
        assert table[name]["basis"] == "fitted"
        assert table[name]["source"] == "own sensors"
        assert table[name]["value"] == value
        assert table[name]["sd"] == fitted.sds_[name]
        assert table[name]["conditions"].startswith("20 days from 2001-10-0")
    # What was not fitted keeps the certificate it had.
    assert table["reflectance_loss"] == films()["white-on-black"]["reflectance_loss"].to_dict()


def test_film_file_is_not_overwritten_and_odd_texts_survive(tmp_path):
    labels = {"description": 'a "film" with \\ and\ttab\nline é'}
    film = ParameterSet("süd 1", films()["black"].parameters, labels)
    place = write_film(tmp_path / "f.toml", film, remarks=["two\nlines"])
    assert read_film(place, "süd 1") == film
    with pytest.raises(InputError, match="not overwritten"):
        write_film(place, film)
    with pytest.raises(InputError, match="this number is required"):
        write_film(tmp_path / "g.toml", ParameterSet("empty", {}))
    assert not (tmp_path / "g.toml").exists()
