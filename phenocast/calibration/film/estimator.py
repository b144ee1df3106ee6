"""An estimator of film, sky, soil and crown parameters from sensors in a bed."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray
from sklearn.base import BaseEstimator, RegressorMixin
from sklearn.utils.validation import check_is_fitted

from phenocast._typing import FloatArray
from phenocast.calibration.film.bed import DAY_W_M2, WATER, SensorBed, plan_of, sensor_bed
from phenocast.calibration.film.readings import (
    SensorScores,
    checked_readings,
    hour_places,
    sensor_scores,
)
from phenocast.calibration.film.report import (
    absorptance_over_conductance,
    damping_of,
    fitted_film,
    report_text,
)
from phenocast.calibration.film.stages import Fitted, fit_stages
from phenocast.crown import bed_forcing
from phenocast.errors import Fault, InputError, broken, raise_any, refuse, unknown_name
from phenocast.parameters import ParameterSet, bed, films, parameter_toml, soils
from phenocast.weather.hourly import HourlyWeather, local_day_and_clock
from phenocast.weather.sun import clear_sky_w_m2


class CrownSensorCalibrator(RegressorMixin, BaseEstimator):  # type: ignore[misc]  # no types
    """Fit a film and its bed to sensors, and say what they cannot tell.

    X is one column of hours (start, UTC, datetime64), y the readings: columns ``film_surface_c,
    air_above_film_c, crown_c, soil_5cm_c, soil_10cm_c`` [degC], NaN where there is none; as a
    DataFrame any of them. `sensor_rows` makes both, and the days, from a table of readings. The
    weather is a setting, not a part of X: soil remembers, so a bed must be run through the hours
    that a cross-validation leaves out too.

    The order is the one that makes the numbers identifiable: (1) the soil's water, which decides
    conductivity and heat capacity, from soil at two depths; (2) offset of the sky and emittance
    from the film at night; (3) reflectance, and with a film sensor the slope on wind, from days;
    then the contact of film and soil where both are read, the level of the deep soil, and the share
    of film warmth in the air above it; (4) weights of the crown (soil, air, radiation: none under
    0, sum 1) and its gain from sunlight. Each is a bounded least-squares fit with a ridge to the
    shipped values and spreads; the stages repeat until nothing moves.

    Parameters
    ----------
    weather : HourlyWeather
        From some days before the first reading on. There is no default that works.
    film, soil : str or ParameterSet
        Name of a shipped one, or a set.
    physics : ParameterSet, optional
        Of the bed; the shipped one otherwise.
    stripe_width_m, row_offset_m, water_m3_m3
        As in `bed_records`; water is the centre of its prior.
    cover, sprinkling_mm_h : array of float64, shape [n], optional
        Share of the bed top under leaves [-] and overhead water [mm h-1] in each hour of the
        weather; none otherwise.
    film_age_d : float
        Age of the film in the first hour of the weather. [d]
    settling_d : float
        Readings of the first days of the weather are left out: the soil starts from a guess. [d]
    held_out_share : float
        Share of the days kept from the fit for the scores, 0 to 0.5. A tool that holds out days of
        its own may set 0.
    least_days : int
        Fewest days to fit to, 3 or more.
    seed : int
        Of the choice of days held out.
    name : str, optional
        Name of the fitted film; "NAME-fitted" otherwise.

    Attributes
    ----------
    values_, sds_ : dict of str to float
        Fitted numbers and their standard deviations, each in the unit of its prior.
    stages_ : dict of str to tuple of str
        What was fitted in which stage, in order.
    held_ : dict of str to str
        What was not fitted, and why.
    at_bound_ : dict of str to float
        Fitted numbers that lie on a bound.
    converged_ : bool
    damping_depth_, damping_depth_sd_ : float
        Of the daily wave in the soil, which is what two depths tell: a wet and a dry soil can damp
        alike, and the spread of the water says so. NaN where it was not fitted. [m]
    ratio_, ratio_sd_ : float
        Absorptance over conductance in the mean hour of sun; NaN where no stage tells it.
        [K per W m-2]
    ratio_only_ : bool
        Whether the ratio is all that can be told of reflectance (no film sensor by day).
    film_ : ParameterSet
        The film, with the fitted numbers of bed and crown, as `film_toml` writes it; without water
        and level of the deep soil, which are those of the weeks that were logged.
    fit_days_, held_out_days_ : arrays of datetime64[D]
        Local standard days.
    scores_ : SensorScores or None
        Errors on the days held out, before and after, over all and by hour and month.
    n_features_in_ : int
        1.

    Notes
    -----
    Of the generic checks of scikit-learn those on construction, parameters and the state before a
    fit apply. Those that fit invented numbers do not: X are hours of a weather record and y are
    temperatures, NaN is a reading that is missing, and what cannot be is refused with an
    `InputError` and its faults, not a ValueError. `score` is minus the RMSE, not R2: a sensor of
    small range must not look worse than one of large range. Standard deviations take residuals
    that follow each other as alike (first-order), sensors as right, and the form of the model as
    right; depth errors of probes are not in them.

    Examples
    --------
    >>> CrownSensorCalibrator().fit(np.array(["2026-10-01T00"], "datetime64[h]"), None)
    Traceback (most recent call last):
    ...
    phenocast.errors.InputError: weather: no hourly weather (allowed: HourlyWeather)
    """

    def __init__(
        self,
        weather: HourlyWeather | None = None,
        *,
        film: str | ParameterSet = "black",
        soil: str | ParameterSet = "sandy loam",
        physics: ParameterSet | None = None,
        stripe_width_m: float | None = None,
        row_offset_m: float = 0.0,
        water_m3_m3: float | None = None,
        cover: FloatArray | None = None,
        sprinkling_mm_h: FloatArray | None = None,
        film_age_d: float = 0.0,
        settling_d: float = 3.0,
        held_out_share: float = 0.25,
        least_days: int = 5,
        seed: int = 0,
        name: str | None = None,
    ) -> None:
        self.weather = weather
        self.film = film
        self.soil = soil
        self.physics = physics
        self.stripe_width_m = stripe_width_m
        self.row_offset_m = row_offset_m
        self.water_m3_m3 = water_m3_m3
        self.cover = cover
        self.sprinkling_mm_h = sprinkling_mm_h
        self.film_age_d = film_age_d
        self.settling_d = settling_d
        self.held_out_share = held_out_share
        self.least_days = least_days
        self.seed = seed
        self.name = name

    def __sklearn_tags__(self) -> Any:
        """Tags of scikit-learn: X are hours of a record, not any numbers."""
        tags = super().__sklearn_tags__()
        tags.input_tags.two_d_array = False
        return tags

    def fit(self, X: ArrayLike, y: pd.DataFrame | ArrayLike) -> CrownSensorCalibrator:
        """Fit to readings.

        Parameters
        ----------
        X : array of datetime64, shape [m] or [m, 1]
            Hours of the readings, start, UTC; in any order, with any gaps.
        y : DataFrame or array of float64, shape [m, 5]
            Readings, NaN where missing. [degC]

        Returns
        -------
        CrownSensorCalibrator
            Itself.

        Raises
        ------
        InputError
            With the faults: settings or readings that cannot be, hours without weather, too few
            days.
        """
        film, soil, weather = self._settings()
        places = hour_places(X, weather.time_utc[0], len(weather))
        readings = checked_readings(y, places.size)
        days, clock = local_day_and_clock(weather.time_utc[places], weather.site.standard_offset_h)
        usable = (places >= 24.0 * self.settling_d) & np.isfinite(readings).any(axis=1)
        self.held_out_days_, self.fit_days_ = self._split(days[usable])
        bed_of = self._bed(film, soil, weather)
        fit = usable & np.isin(days, self.fit_days_)
        plan = plan_of(bed_of, places[fit], readings[fit])
        if not plan.stages:
            raise InputError(
                [Fault("the readings tell nothing", name, do=why)
                 for name, why in plan.held.items()]
            )  # fmt: skip
        found = fit_stages(tuple(plan.stages), bed_of.priors, plan.bounds)
        self.fit_: Fitted = found
        self.held_, self.priors_ = plan.held, dict(bed_of.priors)
        self.at_bound_, self.converged_ = found.at_bound, found.converged
        self.stages_ = {stage.name: stage.names for stage in plan.stages}
        names = [name for stage in plan.stages for name in stage.names]
        self.values_ = {name: found.values[name] for name in names}  # noqa: PD011 (not a frame)
        self.sds_ = {name: found.sd(name) for name in names}
        self.film_ = fitted_film(
            self.name or f"{film.name}-fitted", film, bed_of.priors, found, names,
            f"{len(self.fit_days_)} days from {self.fit_days_[0]} to {self.fit_days_[-1]}",
            "; ".join(f"{stage.name}: {', '.join(stage.names)}" for stage in plan.stages),
        )  # fmt: skip
        self.damping_depth_ = self.damping_depth_sd_ = np.nan
        if WATER in self.values_:
            self.damping_depth_, self.damping_depth_sd_ = damping_of(found, bed_of)
        self._ratio(bed_of, found, places[fit], plan.ratio_only)
        self.scores_: SensorScores | None = None
        out = usable & np.isin(days, self.held_out_days_)
        if out.any():
            before, after = (bed_of.temperatures(v)[:, places[out]].T for v in ({}, self.values_))
            self.scores_ = sensor_scores(readings[out], before, after, days[out], clock[out])
        self.n_features_in_ = 1
        return self

    def predict(self, X: ArrayLike) -> FloatArray:
        """Temperatures of the fitted bed at some hours of the weather.

        Parameters
        ----------
        X : array of datetime64, shape [m] or [m, 1]

        Returns
        -------
        array of float64, shape [m, 5]
            Film, air above it, crown, soil at 5 and 10 cm. [degC]

        Raises
        ------
        InputError
            When an hour has no weather.
        NotFittedError
            Before a fit (scikit-learn's).
        """
        check_is_fitted(self, "values_")
        film, soil, weather = self._settings()
        places = hour_places(X, weather.time_utc[0], len(weather))
        return self._bed(film, soil, weather).temperatures(self.values_)[:, places].T

    def score(
        self, X: ArrayLike, y: pd.DataFrame | ArrayLike, sample_weight: ArrayLike | None = None
    ) -> float:
        """Minus the root mean square error over all readings. [degC]

        Parameters
        ----------
        X, y
            As in `fit`.
        sample_weight : array of float64, shape [m], optional

        Returns
        -------
        float
            At most 0; greater is better.
        """
        predicted = self.predict(X)
        readings = checked_readings(y, len(predicted))
        squared = (predicted - readings) ** 2
        have = np.isfinite(squared)
        weight = np.ones(len(predicted)) if sample_weight is None else np.asarray(sample_weight)
        each = np.broadcast_to(weight[:, None], squared.shape)[have]
        return -float(np.sqrt(np.average(squared[have], weights=each)))

    def film_toml(self) -> str:
        """Text of a film file that a season names by ``file = ...``; see `phenocast.io.write_film`.

        Returns
        -------
        str
            TOML, with the report as comments.
        """
        check_is_fitted(self, "values_")
        return parameter_toml("film", [self.film_], [self.report()])

    def report(self) -> str:
        """The fit in words: numbers, bounds, what could not be told, errors on days held out."""
        check_is_fitted(self, "values_")
        return report_text(self)

    def _settings(self) -> tuple[ParameterSet, ParameterSet, HourlyWeather]:
        faults = broken(
            (
                not isinstance(self.weather, HourlyWeather),
                Fault("no hourly weather", "weather", self.weather, "HourlyWeather"),
            )
        )
        for what, given, known in (("film", self.film, films()), ("soil", self.soil, soils())):
            if isinstance(given, str) and given not in known:
                faults.append(unknown_name(what, given, known, what))
        for setting, low, high in (
            ("held_out_share", 0.0, 0.5), ("least_days", 3, 10_000), ("settling_d", 0.0, 365.0),
            ("film_age_d", 0.0, 3650.0),
        ):  # fmt: skip
            value = getattr(self, setting)
            faults += broken(
                (
                    not low <= value <= high,
                    Fault("setting out of range", setting, value, f"{low} to {high}"),
                )
            )
        for series, most in (("cover", 1.0), ("sprinkling_mm_h", 50.0)):
            if getattr(self, series) is None or self.weather is None:
                continue
            values, hours = np.asarray(getattr(self, series), float), (len(self.weather),)
            faults += broken(
                (
                    values.shape != hours,
                    Fault("not a value for every hour of the weather", series, values.shape,
                          str(hours)),
                ),
                (
                    not np.all((values >= 0.0) & (values <= most)),
                    Fault("a value is missing or out of range", series),
                ),
            )  # fmt: skip
        raise_any(faults)
        assert self.weather is not None
        film = films()[self.film] if isinstance(self.film, str) else self.film
        soil = soils()[self.soil] if isinstance(self.soil, str) else self.soil
        return film, soil, self.weather

    def _bed(self, film: ParameterSet, soil: ParameterSet, weather: HourlyWeather) -> SensorBed:
        beside = film.labels.get("shoulder")
        still = np.zeros(len(weather))
        return sensor_bed(
            bed_forcing(weather, clear_sky_w_m2(weather.time_utc, weather.site)),
            film, bed() if self.physics is None else self.physics, soil,
            shoulder=None if beside is None else films()[beside],
            stripe_width_m=self.stripe_width_m, row_offset_m=self.row_offset_m,
            water_m3_m3=self.water_m3_m3,
            cover=still if self.cover is None else np.asarray(self.cover, dtype=np.float64),
            sprinkling_mm_h=still if self.sprinkling_mm_h is None
            else np.asarray(self.sprinkling_mm_h, dtype=np.float64),
            film_age_d=self.film_age_d,
        )  # fmt: skip

    def _split(
        self, days: NDArray[np.datetime64]
    ) -> tuple[NDArray[np.datetime64], NDArray[np.datetime64]]:
        """Days held out and days to fit to, chosen by the seed."""
        known = np.unique(days)
        count = round(self.held_out_share * known.size)
        if self.held_out_share > 0.0:
            count = max(count, 1)
        refuse(
            (
                known.size - count < self.least_days,
                Fault(
                    "too few days with readings",
                    "X",
                    int(known.size),
                    f"{self.least_days + count} or more after the first {self.settling_d:g}, "
                    f"{count} of them held out",
                    "log on, or begin the weather earlier",
                ),
            )
        )
        chosen = np.random.default_rng(self.seed).permutation(known.size)[:count]
        held_out = np.isin(np.arange(known.size), chosen)
        return known[held_out], known[~held_out]

    def _ratio(
        self, bed_of: SensorBed, found: Fitted, places: NDArray[np.int64], ratio_only: bool
    ) -> None:
        """Absorptance over conductance in the mean hour of sun, and whether it is all there is."""
        self.ratio_ = self.ratio_sd_ = np.nan
        told = "solar_reflectance" in self.values_
        self.ratio_only_ = told and ratio_only
        if not told:
            return
        sunny = places[bed_of.forcing.solar_w_m2[places] > DAY_W_M2]
        hours = sunny if sunny.size else places
        air, wind = (
            float(one[hours].mean()) for one in (bed_of.forcing.air_c, bed_of.forcing.wind_m_s)
        )
        age = self.film_age_d + float(np.mean(places)) / 24.0

        def ratio(values: Mapping[str, float]) -> float:
            return absorptance_over_conductance(values, bed_of, air, wind, age)

        self.ratio_, self.ratio_sd_ = ratio(found.values), found.sd_of(ratio)
