"""A model of any event that comes once a year when enough warmth has summed up since a start."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike
from sklearn.base import BaseEstimator, RegressorMixin
from sklearn.utils.validation import check_is_fitted

from phenocast._typing import FloatArray
from phenocast.calibration._checks import finite
from phenocast.calibration.events.search import (
    RESPONSES,
    EventFit,
    EventProblem,
    Interval,
    daily_warmth,
    fit_event,
    profile_interval,
)
from phenocast.errors import Fault, InputError, unknown_name
from phenocast.thermal_time import crossing_time, hours_above, prefix_sums


class EventModel(RegressorMixin, BaseEstimator):  # type: ignore[misc]  # scikit-learn has no types
    """Base, optimum and ceiling temperature and requirement of a one-event series.

    Follows the estimator contract of scikit-learn: the constructor stores, `fit` validates, what
    was fitted ends in an underscore. Refusals are `InputError`, as everywhere in this package.

    Parameters
    ----------
    response : {"linear", "plateau", "triangle", "wang_engel"}
        How warmth counts: without end above the base; up to the optimum and flat from there;
        falling again to nothing at the ceiling, in straight lines or smoothly.
    base, optimum, ceiling : (float, float)
        Bounds of the search; those the response does not have are not looked at. They are wide on
        purpose: a cardinal that ends on one is reported. [degC]
    step_h : float
        Length of a step of the temperatures, 1 to 24. [h]
    seeds : sequence of int
        A seed per start of the search; three or more tell whether starts agree.
    generations : int
        Most generations of a start.
    intervals : bool
        Whether to work out intervals by profile likelihood too.

    Attributes
    ----------
    fit_ : EventFit
        Values, scatter, criteria, starts, bounds.
    base_, optimum_, ceiling_ : float
        Cardinal temperatures; NaN for those the response does not have. [degC]
    requirement_ : float
        Sum at which the event comes, warmth above the base over days. [degC d]
    hours_above_ : dict
        Hours between start and event above each of optimum and ceiling, all rows together. [h]
    identifiable_ : dict
        Whether the records tell each cardinal. A ceiling (or optimum) that no hour of the data
        exceeds is not, whatever the search returned; nor is one whose interval is open, nor any
        where the starts do not agree.
    intervals_ : dict
        `Interval` by cardinal; empty where `intervals` is false.
    converged_ : bool
        Whether all starts agreed.
    n_features_in_ : int
        Steps of the window.

    Notes
    -----
    Errors are normal, in days; records of one year at several sites are taken as independent.

    Examples
    --------
    >>> air = np.repeat([[8.0], [10.0], [12.0], [14.0], [16.0]], 40, axis=1)
    >>> event = [25.2, 16.5, 12.6, 10.1, 8.2]
    >>> model = EventModel("linear", base=(0.0, 7.5), step_h=24.0, seeds=(1,)).fit(air, event)
    >>> round(model.base_), round(model.requirement_), model.identifiable_
    (4, 99, {'base': True})
    >>> model.predict(np.full((1, 40), 20.0)).round(1).tolist()
    [6.2]
    """

    def __init__(
        self,
        response: str = "triangle",
        *,
        base: tuple[float, float] = (-5.0, 15.0),
        optimum: tuple[float, float] = (12.0, 34.0),
        ceiling: tuple[float, float] = (20.0, 48.0),
        step_h: float = 1.0,
        seeds: Sequence[int] = (1, 2, 3),
        generations: int = 60,
        intervals: bool = True,
    ) -> None:
        self.response = response
        self.base = base
        self.optimum = optimum
        self.ceiling = ceiling
        self.step_h = step_h
        self.seeds = seeds
        self.generations = generations
        self.intervals = intervals

    def fit(self, X: ArrayLike, y: ArrayLike) -> EventModel:
        """Fit to temperatures and the days of the event.

        Parameters
        ----------
        X : temperatures from the start on, one row per site and year, complete, shape ``[m, n]``.
            [degC]
        y : event, days since the start, shape ``[m]``. [d]

        Returns
        -------
        EventModel
            Itself.

        Raises
        ------
        InputError : a setting out of range, missing weather, fewer rows than parameters and two, an
            event before the start or after the window.

        Examples
        --------
        >>> EventModel("linear", step_h=24.0).fit(np.full((2, 9), 10.0), [3.0, 4.0])
        Traceback (most recent call last):
        ...
        phenocast.errors.InputError: X: too few years (value 2; allowed: 5 rows or more...
        """
        self._check_settings()
        names = RESPONSES[self.response]
        air = finite(X, "X", dimensions=2, shortest=(1, 1))
        event = finite(y, "y", dimensions=1, shortest=(1,))
        window = air.shape[1] * self.step_h / 24.0
        faults = []
        if event.size != air.shape[0]:
            raise InputError(Fault("not one event for every row", "y", event.size, str(len(air))))
        if event.size < (least := len(names) + 4):
            faults.append(
                Fault(
                    "too few years",
                    "X",
                    event.size,
                    f"{least} rows or more for the {self.response} response",
                    "add years, or take a response with fewer temperatures",
                )
            )
        for row in np.flatnonzero((event <= 0.0) | (event >= window)):
            what = "event before the start" if event[row] <= 0.0 else "event after the window"
            faults.append(Fault(what, f"y[{row}]", float(event[row]), f"0 to {window:g} d"))
        if faults:
            raise InputError(faults)
        bounds = {name: getattr(self, name) for name in names}
        problem = EventProblem(air, event, self.step_h, self.response, bounds)
        found = fit_event(problem, tuple(self.seeds), self.generations)
        self.fit_: EventFit = found
        self.base_, self.optimum_, self.ceiling_ = (
            found.values.get(name, np.nan) for name in ("base", "optimum", "ceiling")
        )
        self.requirement_ = found.requirement
        self.converged_ = found.starts_agree
        self.n_features_in_ = air.shape[1]
        self.hours_above_ = self._hours_above(air, event)
        self.intervals_: dict[str, Interval] = (
            {name: profile_interval(problem, found, name) for name in names}
            if self.intervals
            else {}
        )
        self.identifiable_ = {name: self._told(name) for name in names}
        return self

    def predict(self, X: ArrayLike) -> FloatArray:
        """Day of the event in each row; NaN where the window ends before it.

        Parameters
        ----------
        X : temperatures from the start on, shape ``[m, n]``; n may differ from the fit. [degC]

        Returns
        -------
        Days since the start, interpolated inside the step, shape ``[m]``. [d]

        Raises
        ------
        InputError : missing weather.
        NotFittedError : not fitted yet (scikit-learn's).

        Examples
        --------
        >>> EventModel().predict([[1.0]])
        Traceback (most recent call last):
        ...
        sklearn.exceptions.NotFittedError: This EventModel instance is not fitted yet...
        """
        check_is_fitted(self, "fit_")
        air = finite(X, "X", dimensions=2, shortest=(1, 1))
        step_d = self.step_h / 24.0
        warmth = daily_warmth(air, self.response, self.fit_.values)
        sums = prefix_sums(warmth, step=step_d)
        return np.array([float(crossing_time(row, self.requirement_)) * step_d for row in sums])

    def report(self) -> str:
        """The fit in words: values, intervals, what is not identifiable and why.

        Returns
        -------
        str
            One line per parameter, then scatter, criteria and convergence.

        Examples
        --------
        >>> air = np.repeat([[8.0], [10.0], [12.0], [14.0], [16.0]], 40, axis=1)
        >>> model = EventModel("linear", base=(0.0, 7.5), step_h=24.0, seeds=(1,))
        >>> print(model.fit(air, [25.2, 16.5, 12.6, 10.1, 8.2]).report().splitlines()[0][:15])
        base        4.1
        """
        check_is_fitted(self, "fit_")
        found = self.fit_
        lines = [self._line(name) for name in found.values]
        lines.append(f"requirement {self.requirement_:.1f} degC d above the base")
        lines.append(f"scatter     {found.sd_days:.2f} d over {found.criteria.units} rows")
        lines.append(
            f"AICc {found.criteria.aicc:.1f}, BIC {found.criteria.bic:.1f} with "
            f"{found.criteria.parameters} parameters"
        )
        ends = ", ".join(f"{one.sd_days:.2f}" for one in found.starts)
        agreed = "agree" if found.starts_agree else "do NOT agree: not converged"
        lines.append(f"starts      {agreed} (scatter {ends} d; {found.evaluations} trials)")
        return "\n".join(lines)

    def _line(self, name: str) -> str:
        text = f"{name:<11} {self.fit_.values[name]:.1f} degC"
        reach = ""
        if name in self.hours_above_:
            reach = f"{self.hours_above_[name]:.0f} h above it in the data"
        if not self.identifiable_[name]:
            why = reach
            if self.hours_above_.get(name) != 0.0:
                open_end = "its interval is open" if self.converged_ else "the starts do not agree"
                why = f"{open_end}{', ' + reach if reach else ''}"
            text = f"{name:<11} not identifiable: {why} (search ended at {text[12:]})"
        elif reach:
            text += f", {reach}"
        if name in self.intervals_:
            own = self.intervals_[name]
            low = "open" if own.open_low else f"{own.low:.1f}"
            high = "open" if own.open_high else f"{own.high:.1f}"
            text += f", 95 % interval {low} to {high}"
        return text + (", AT A BOUND of the search" if name in self.fit_.at_bound else "")

    def _hours_above(self, air: FloatArray, event: FloatArray) -> dict[str, float]:
        step_end = np.arange(air.shape[1]) * self.step_h / 24.0
        before = np.where(step_end < event[:, None], air, -np.inf)
        return {
            name: float(hours_above(before, value, step_h=self.step_h).sum())
            for name, value in self.fit_.values.items()
            if name != "base"
        }

    def _told(self, name: str) -> bool:
        if self.hours_above_.get(name) == 0.0 or not self.converged_:
            return False
        own = self.intervals_.get(name)
        return own is None or not (own.open_low or own.open_high)

    def _check_settings(self) -> None:
        if self.response not in RESPONSES:
            raise InputError(unknown_name("response", self.response, RESPONSES, "response"))
        faults = []
        for name in RESPONSES[self.response]:
            low, high = getattr(self, name)
            if not (np.isfinite(low) and np.isfinite(high) and low < high):
                faults.append(Fault("bounds do not rise", name, (low, high), "low < high [degC]"))
        if not 1.0 <= self.step_h <= 24.0:
            faults.append(Fault("step out of range", "step_h", self.step_h, "1 to 24 h"))
        if len(self.seeds) < 1 or self.generations < 1:
            faults.append(Fault("no start, or no generation", "seeds, generations", None, ">= 1"))
        if faults:
            raise InputError(faults)
