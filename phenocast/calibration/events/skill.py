"""Whether an event model is any use: errors on years left out, beside two plain rules."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from sklearn.base import clone

from phenocast._typing import FloatArray
from phenocast.calibration._checks import finite
from phenocast.calibration.events.model import EventModel
from phenocast.errors import Fault, InputError

_MONTH_D = 30  # a month is thirty days counted from the start


@dataclass(frozen=True)
class LeftOut:
    """Dates of every row from fits that did not see its year.

    Parameters
    ----------
    year : array of int ``[row]``
    observed : array ``[row]``
        Event. [d since the start]
    model, calendar_mean, month_line : arrays ``[row]``
        Dates by the model, by the mean date of the other years, and by a straight line on the mean
        temperature of the month that fitted the other years best. [d since the start]
    month : array of int ``[row]``
        Month the line used, 0 for the first thirty days of the window.
    not_reached : array of bool ``[row]``
        Rows whose window ended before the model's event; the end of the window stands for their
        date, so the true error may be larger.
    """

    year: NDArray[np.int64]
    observed: FloatArray
    model: FloatArray
    calendar_mean: FloatArray
    month_line: FloatArray
    month: NDArray[np.int64]
    not_reached: NDArray[np.bool_]

    def root_mean_square(self) -> dict[str, float]:
        """Root mean square error of each of the three. [d]"""
        return {
            name: float(np.sqrt(np.mean((getattr(self, name) - self.observed) ** 2)))
            for name in ("model", "calendar_mean", "month_line")
        }

    def report(self) -> str:
        """The three errors and a plain verdict.

        Examples
        --------
        >>> one, zero = np.ones(3), np.zeros(3)
        >>> found = LeftOut(np.arange(3), zero, 0.5 * one, 2.0 * one, one, np.arange(3), zero > 1)
        >>> print(found.report())
        error on years left out: model 0.50 d, calendar mean 2.00 d, line on a month's mean 1.00 d
        the model beats both
        """
        error = self.root_mean_square()
        beaten = [
            words
            for name, words in (
                ("calendar_mean", "the calendar mean"),
                ("month_line", "the line on a month's mean"),
            )
            if error["model"] < error[name]
        ]
        verdict = {0: "the model beats neither: do not use it", 1: "the model beats only "}.get(
            len(beaten), "the model beats both"
        )
        if len(beaten) == 1:
            verdict += beaten[0]
        if self.not_reached.any():
            years = ", ".join(str(one) for one in np.unique(self.year[self.not_reached]))
            verdict += f"\nevent not reached inside the window in {years}: errors are at least so"
        return (
            f"error on years left out: model {error['model']:.2f} d, calendar mean "
            f"{error['calendar_mean']:.2f} d, line on a month's mean {error['month_line']:.2f} d\n"
            f"{verdict}"
        )


def leave_one_year_out(
    model: EventModel, X: ArrayLike, y: ArrayLike, year: ArrayLike, site: ArrayLike | None = None
) -> LeftOut:
    """Errors of an event model on years it has not seen, beside calendar mean and a straight line.

    Parameters
    ----------
    model : settings of the model; it is cloned, never changed, and fitted without intervals.
    X, y : as `EventModel.fit` takes them, shapes ``[m, n]`` and ``[m]``. [degC, d]
    year : year of each row, shape ``[m]``; all rows of a year are left out together.
    site : site of each row, shape ``[m]``; the two plain rules then know each site's own mean date.

    Returns
    -------
    LeftOut

    Raises
    ------
    InputError : labels that differ in number from the rows, fewer than five years, a window under
        30 days, a site recorded in one year only; else as `EventModel.fit`.

    Notes
    -----
    The line chooses its month among those that begin before the earliest event of the years kept,
    by their squared error, so that the year left out has no say. With several sites it fits the
    departures from each site's means.

    Examples
    --------
    >>> air = np.repeat([[8.0], [9.0], [10.0], [12.0], [14.0], [16.0]], 40, axis=1)
    >>> event = 100.0 / (air[:, 0] - 4.0)
    >>> model = EventModel("linear", base=(0.0, 7.5), step_h=24.0, seeds=(1,))
    >>> error = leave_one_year_out(model, air, event, np.arange(2001, 2007)).root_mean_square()
    >>> error["model"] < 0.01 < error["month_line"] < error["calendar_mean"]
    True
    """
    air = finite(X, "X", dimensions=2, shortest=(1, 1))
    event = finite(y, "y", dimensions=1, shortest=(1,))
    years = np.asarray(year, dtype=np.int64)
    sites = np.zeros(event.size, dtype=np.int64)
    if site is not None:
        _, sites = np.unique(np.asarray(site), return_inverse=True)
    if not (years.shape == event.shape == sites.shape and event.size == air.shape[0]):
        raise InputError(Fault("not one event, year and site for every row", "y, year, site",
                               (event.shape, years.shape, sites.shape)))  # fmt: skip
    if (found := np.unique(years)).size < 5:
        raise InputError(Fault("too few years", "year", int(found.size), "5 or more"))
    for one in np.unique(sites):
        if np.unique(years[sites == one]).size < 2:
            raise InputError(Fault("a site has one year only", "site", str(np.asarray(site)[
                np.argmax(sites == one)]), "2 years or more", "leave the site out"))  # fmt: skip
    months = _month_means(air, model.step_h)
    window = air.shape[1] * model.step_h / 24.0
    by_model, mean, line = (np.empty(event.size) for _ in range(3))
    month = np.empty(event.size, dtype=np.int64)
    for one in found:
        out = years == one
        fitted = clone(model).set_params(intervals=False).fit(air[~out], event[~out])
        by_model[out] = fitted.predict(air[out])
        mean[out] = _site_means(event, sites, ~out)[sites[out]]
        line[out], month[out] = _line(months, event, sites, out)
    late = np.isnan(by_model)
    return LeftOut(years, event, np.where(late, window, by_model), mean, line, month, late)


def _month_means(air: FloatArray, step_h: float) -> FloatArray:
    steps = round(_MONTH_D * 24.0 / step_h)
    if air.shape[1] < steps:
        raise InputError(
            Fault("window is shorter than a month", "X", air.shape[1], f"{steps} steps or more")
        )
    whole = air.shape[1] // steps
    return np.asarray(air[:, : whole * steps].reshape(air.shape[0], whole, steps).mean(axis=2))


def _site_means(
    values: FloatArray, sites: NDArray[np.int64], kept: NDArray[np.bool_]
) -> FloatArray:
    count = np.bincount(sites[kept], minlength=int(sites.max()) + 1)
    return np.asarray(np.bincount(sites[kept], weights=values[kept], minlength=count.size) / count)


def _line(
    months: FloatArray, event: FloatArray, sites: NDArray[np.int64], out: NDArray[np.bool_]
) -> tuple[FloatArray, int]:
    kept = ~out
    date_mean = _site_means(event, sites, kept)
    usable = min(int(event[kept].min() // _MONTH_D) + 1, months.shape[1])
    best: tuple[float, FloatArray, int] | None = None
    for month in range(usable):
        warmth_mean = _site_means(months[:, month], sites, kept)
        warmth, date = months[:, month] - warmth_mean[sites], event - date_mean[sites]
        spread = float(warmth[kept] @ warmth[kept])
        slope = float(warmth[kept] @ date[kept]) / spread if spread > 0.0 else 0.0
        left = float(np.sum((date[kept] - slope * warmth[kept]) ** 2))
        if best is None or left < best[0]:
            best = (left, date_mean[sites[out]] + slope * warmth[out], month)
    assert best is not None  # the first month always begins before the earliest event
    return best[1], best[2]
