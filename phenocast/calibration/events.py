"""An event that comes once a year when enough warmth has summed up: dates of bloom, of bud burst.

Warmth counts by a heat sum above a base or by a sigmoid, from a day that is fitted too, on a sine
between each day's minimum and maximum. Every combination of a coarse grid is tried, and those that
explain the past dates about equally well speak together, so that there is no search that could end
in the wrong place, and what the dates cannot tell shows as a wide interval.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np
import pandas as pd
from numba import njit
from numpy.typing import ArrayLike
from sklearn.base import BaseEstimator, RegressorMixin
from sklearn.utils.validation import check_is_fitted

from phenocast._typing import FloatArray
from phenocast.errors import Fault, InputError, raise_any, refuse, unknown_name
from phenocast.thermal_time import prefix_sums
from phenocast.weather.sun import sunset_hour_angle

PARAMETERS = {
    "heat sum": ("base_c",),
    "sigmoid": ("midpoint_c", "slope_per_c"),
    "photothermal": ("base_c",),
}
"""Forms and their numbers; each has the day of start and the requirement too.

``heat sum``: degrees above a base. ``sigmoid``: ``1 / (1 + exp(-slope (T - midpoint)))``.
``photothermal``: degrees above a base times day length over 12 h.
"""
GRID = {
    "base_c": np.arange(-4.0, 12.1, 0.5),
    "midpoint_c": np.arange(2.0, 24.1, 1.0),
    "slope_per_c": np.array([0.1, 0.15, 0.2, 0.3, 0.45, 0.7]),
}
START_STEP_D = 3
"""Starts of the count that are tried lie so far apart, and so far before the first event. [d]"""
_NODES = np.cos(np.pi * (np.arange(6) + 0.5) / 6)  # equal times on the way from minimum to maximum
_FLOOR_D = 0.02  # a smaller scatter than half an hour is a perfect fit
_LEAST_ROWS = 5
_SPOKEN = 1e-3  # points of less weight than this share of the best have no say in a date


def event_table(weather: pd.DataFrame, seasons: pd.DataFrame, days: int) -> pd.DataFrame:
    """Rows of `EventModel`: the extremes of the days after each season's own start.

    Parameters
    ----------
    weather : DataFrame
        ``date, max_c, min_c`` and, for several sites, ``site``. [degC]
    seasons : DataFrame
        ``start`` (a date each, which is day 0 of the row) and, for several sites, ``site``.
    days : int
        Days that every row holds, beyond the latest event. [d]

    Returns
    -------
    DataFrame
        Index of ``seasons``; columns ``start``, ``max_0`` to ``max_{days-1}`` and ``min_…``.

    Raises
    ------
    InputError
        With every season whose weather is not whole, or has a minimum above its maximum.

    Examples
    --------
    >>> days = pd.date_range("2024-01-01", periods=5)
    >>> weather = pd.DataFrame({"date": days, "max_c": range(5, 10), "min_c": range(5)})
    >>> event_table(weather, pd.DataFrame({"start": ["2024-01-02"]}, index=[2024]), 2).iloc[0, 1:]
    max_0    6.0
    max_1    7.0
    min_0    1.0
    min_1    2.0
    Name: 2024, dtype: float64
    """
    keys = ["site", "date"] if "site" in seasons else ["date"]
    known = weather.assign(date=pd.to_datetime(weather["date"])).set_index(keys)
    starts = pd.to_datetime(seasons["start"])
    rows, faults = [], []
    for number, start in enumerate(starts):
        own = pd.date_range(start, periods=days)
        wanted = own if len(keys) == 1 else pd.MultiIndex.from_product(
            [[seasons["site"].iloc[number]], own])  # fmt: skip
        found = known[["max_c", "min_c"]].reindex(wanted).to_numpy(dtype=np.float64)
        bad = ~np.isfinite(found).all(axis=1) | (found[:, 1] > found[:, 0])
        if bad.any():
            faults.append(
                Fault(f"weather of {int(bad.sum())} of {days} days is missing or has its minimum "
                      "above its maximum", f"season {seasons.index[number]}",
                      str(own[int(bad.argmax())].date()), do="mend it, or leave the season out")
            )  # fmt: skip
        rows.append(found.T.ravel())
    raise_any(faults)
    names = [f"{extreme}_{day}" for extreme in ("max", "min") for day in range(days)]
    table = pd.DataFrame(np.array(rows).reshape(-1, 2 * days), seasons.index, names)
    table.insert(0, "start", starts)
    return table


class EventModel(RegressorMixin, BaseEstimator):  # type: ignore[misc]  # scikit-learn has no types
    """Day of an event by sums of warmth from a fitted start.

    Follows the estimator contract of scikit-learn; refusals are `InputError`.

    Parameters
    ----------
    forms : sequence of str
        Of `PARAMETERS`. Several are averaged by their errors on seasons left out.
    latitude : float, optional
        For the day length of the photothermal form. [deg]

    Attributes
    ----------
    weights_ : dict of str to float
        Say of each form: its likelihood of the dates left out, normal errors.
    left_out_ : array ``[rows]``
        Day of each row by all other rows, forms and requirement chosen without it. [d]
    left_out_rmse_ : dict of str to float
        Of each form, of their ``average`` and of the ``calendar mean``, which any model must beat.
        [d]
    points_ : DataFrame
        ``form``, its numbers, ``start_d``, ``requirement`` and ``weight`` of every point that has a
        say.
    intervals_ : dict of (form, number) to (float, float)
        Values that hold 90 % of the weight.
    identified_ : dict of (form, number) to bool
        Whether the dates tell the number: its interval is less than half of what was tried and ends
        on neither edge.
    feature_names_in_, n_features_in_ : columns of the table it was fitted to.

    Notes
    -----
    A point's weight is ``SSE**(-n / 2)``, the likelihood of normal errors with their scale
    integrated out; its requirement is the mean of the sums at the events. Seasons are independent.

    Examples
    --------
    >>> air = np.repeat([[8.0], [9.0], [10.0], [12.0], [14.0], [16.0]], 40, axis=1)
    >>> days = [f"{name}_{day}" for name in ("max", "min") for day in range(40)]
    >>> table = pd.DataFrame(np.hstack([air, air]), columns=days).assign(start="2024-01-01")
    >>> model = EventModel(["heat sum"]).fit(table, 100.0 / (air[:, 0] - 4.0))
    >>> {name: tuple(ends.tolist()) for name, ends in model.intervals_.items()}
    {('heat sum', 'base_c'): (4.0, 4.0), ('heat sum', 'start_d'): (0.0, 0.0)}
    >>> model.predict(table.head(1)).round(1).tolist()
    [25.0]
    """

    def __init__(
        self, forms: Sequence[str] = ("heat sum", "sigmoid"), *, latitude: float | None = None
    ) -> None:
        self.forms = forms
        self.latitude = latitude

    def __sklearn_tags__(self) -> Any:
        """Tags of scikit-learn: X are days of weather, not any numbers."""
        tags = super().__sklearn_tags__()
        tags.input_tags.two_d_array = False
        return tags

    def fit(self, X: pd.DataFrame, y: ArrayLike) -> EventModel:
        """Fit to past seasons.

        Parameters
        ----------
        X : DataFrame, `event_table`.
        y : array ``[rows]``, event, days since midnight of each row's start. [d]

        Raises
        ------
        InputError : an unknown form, no latitude where one is needed, fewer than five rows, an
            event before the start or after the window, weather that is missing.
        """
        event = np.asarray(y, dtype=np.float64)
        self._check(X, event)
        temperature, length = self._weather(X)
        n = len(event)
        rows, cell = np.arange(n), event.astype(np.int64)
        starts = np.arange(0, max(1, int(event.min()) - START_STEP_D), START_STEP_D)
        points: list[tuple[str, dict[str, float], float]] = []
        sse, own_error, others_sse = [], [], []
        for form in self.forms:
            for numbers in _grid(form):
                rate = _rate(form, numbers, temperature, length)
                sums = prefix_sums(rate)
                at_event = sums[rows, cell] + (event - cell) * rate[rows, cell]
                for start in starts.tolist():
                    own = at_event - sums[:, start]
                    # requirement without each row in turn, and at the end that of all
                    needs = np.append((own.sum() - own) / (n - 1), own.mean())
                    error = _dates(sums, start, needs) - event[:, None]
                    points.append((form, numbers | {"start_d": start}, float(needs[-1])))
                    sse.append(np.sum(error[:, -1] ** 2))
                    own_error.append(error[rows, rows])
                    others_sse.append(np.sum(error[:, :-1] ** 2, axis=0) - error[rows, rows] ** 2)
        of_form = np.array([form for form, _, _ in points])
        self._average(of_form, np.array(own_error), np.array(others_sse), event)
        weight = np.zeros(len(points))
        for form in self.forms:
            mine = of_form == form
            weight[mine] = self.weights_[form] * _weights(np.array(sse)[mine], n)
        self.points_ = pd.DataFrame([numbers for _, numbers, _ in points]).assign(
            form=of_form, requirement=[need for _, _, need in points], weight=weight
        )
        self._tell(starts)
        self.points_ = self.points_[weight >= _SPOKEN * weight.max()].reset_index(drop=True)
        self.feature_names_in_ = np.asarray(X.columns, dtype=object)
        self.n_features_in_ = X.shape[1]
        return self

    def predict(self, X: pd.DataFrame) -> FloatArray:
        """Return the day of the event of each row, NaN where its days do not reach it. [d]"""
        check_is_fitted(self, "points_")
        temperature, length = self._weather(X)
        total, weight = np.zeros(len(X)), np.zeros(len(X))
        for point in self.points_.to_dict("records"):
            numbers = {name: point[name] for name in PARAMETERS[point["form"]]}
            rate = _rate(point["form"], numbers, temperature, length)
            sums = prefix_sums(rate)
            day = _dates(sums, int(point["start_d"]), np.array([point["requirement"]]))[:, 0]
            reached = day <= temperature.shape[1]
            total += np.where(reached, point["weight"] * day, 0.0)
            weight += np.where(reached, point["weight"], 0.0)
        with np.errstate(invalid="ignore"):
            return np.asarray(
                np.where(weight > 0.5 * self.points_["weight"].sum(), total / weight, np.nan)
            )

    def _average(
        self, of_form: np.ndarray, own_error: FloatArray, others_sse: FloatArray, event: FloatArray
    ) -> None:
        """Weigh the forms by what they say of rows left out, and keep the errors."""
        n = len(event)
        left_out = []
        for form in self.forms:
            mine = of_form == form
            weight = _weights(others_sse[mine], n - 1)
            left_out.append(np.sum(weight * own_error[mine], axis=0))
        error = np.array(left_out)
        squares = np.sum(error**2, axis=1, keepdims=True)
        # a form's say in a row is what it said of the others
        together = np.sum(_weights(squares - error**2, n - 1) * error, axis=0)
        calendar = (event.sum() - event) / (n - 1) - event
        self.left_out_: FloatArray = event + together
        self.weights_: dict[str, float] = dict(
            zip(self.forms, _weights(squares[:, 0], n).tolist(), strict=True)
        )
        named = [*zip(self.forms, error, strict=True), ("average", together),
                 ("calendar mean", calendar)]  # fmt: skip
        self.left_out_rmse_ = {name: float(np.sqrt(np.mean(one**2))) for name, one in named}

    def _tell(self, starts: np.ndarray) -> None:
        """Work out which numbers the dates tell."""
        self.intervals_: dict[tuple[str, str], FloatArray] = {}
        self.identified_: dict[tuple[str, str], bool] = {}
        for form, own in self.points_.groupby("form", sort=False):
            for name in (*PARAMETERS[str(form)], "start_d"):
                tried = starts if name == "start_d" else GRID[name]
                share = own.groupby(name)["weight"].sum() / own["weight"].sum()
                place = np.searchsorted(share.cumsum(), [0.05, 0.95])
                low, high = ends = share.index.to_numpy()[np.minimum(place, len(share) - 1)]
                self.intervals_[str(form), name] = ends.astype(np.float64)
                inside = tried[0] < low and high < tried[-1]
                narrow = high - low < 0.5 * (tried[-1] - tried[0])
                self.identified_[str(form), name] = bool(inside and narrow)

    def _weather(self, X: pd.DataFrame) -> tuple[FloatArray, FloatArray]:
        """Temperatures ``[rows, days, nodes]`` [degC] and day length over 12 h ``[rows, days]``."""
        extremes = [X.filter(regex=f"^{name}_[0-9]+$").to_numpy(dtype=np.float64)
                    for name in ("max", "min")]  # fmt: skip
        if extremes[0].shape != extremes[1].shape or not np.isfinite(extremes).all():
            raise InputError(Fault("temperatures are missing", "X", do="make it by event_table"))
        high, low = extremes
        middle, half = 0.5 * (high + low), 0.5 * (high - low)
        length = np.ones_like(middle)
        if "photothermal" in self.forms and self.latitude is not None:
            first = pd.to_datetime(X["start"]).dt.day_of_year.to_numpy()
            day = (first[:, None] + np.arange(high.shape[1]) - 1) % 365 + 1
            length = sunset_hour_angle(self.latitude, day) * 2.0 / np.pi
        return middle[..., None] + half[..., None] * _NODES, length

    def _check(self, X: pd.DataFrame, event: FloatArray) -> None:
        if not hasattr(X, "filter"):
            raise InputError(Fault("not a table", "X", type(X).__name__, "DataFrame"))
        days, alike = len(X.filter(regex="^max_[0-9]+$").columns), event.shape == (len(X),)
        refuse(
            *((form not in PARAMETERS, unknown_name("form", form, PARAMETERS))
              for form in self.forms),
            (not self.forms, Fault("no form", "forms", allowed=", ".join(PARAMETERS))),
            ("photothermal" in self.forms and self.latitude is None,
             Fault("no latitude for the day length", "latitude")),
            (not alike, Fault("not one event for every row", "y", event.shape, str(len(X)))),
            (alike and len(X) < _LEAST_ROWS,
             Fault("too few seasons", "X", len(X), f"{_LEAST_ROWS} or more")),
            *((not 0.0 < day < days,
               Fault("the event is not inside the days of its row", f"y[{row}]", day,
                     f"0 to {days} d"))
              for row, day in enumerate(event.tolist() if alike else [])),
        )  # fmt: skip


def _grid(form: str) -> Iterator[dict[str, float]]:
    """Every combination of a form's numbers that is tried."""
    names = PARAMETERS[form]
    for values in np.stack(np.meshgrid(*(GRID[name] for name in names)), -1).reshape(
        -1, len(names)
    ):
        yield dict(zip(names, values.tolist(), strict=True))


def _rate(
    form: str, numbers: dict[str, float], temperature_c: FloatArray, length: FloatArray
) -> FloatArray:
    """Warmth of each day, ``[rows, days]``."""
    if form == "sigmoid":
        lag = numbers["slope_per_c"] * (temperature_c - numbers["midpoint_c"])
        return np.asarray((1.0 / (1.0 + np.exp(-lag))).mean(axis=-1))
    rate = np.maximum(temperature_c - numbers["base_c"], 0.0).mean(axis=-1)
    return np.asarray(rate * length if form == "photothermal" else rate)


def _weights(sse: FloatArray, n: int) -> FloatArray:
    """Weights over the first axis from sums of squares of so many errors."""
    log = -0.5 * n * np.log(sse + n * _FLOOR_D**2)
    weight = np.exp(log - log.max(axis=0))
    return np.asarray(weight / weight.sum(axis=0))


@njit(cache=True, nogil=True, error_model="numpy")
def _dates(sums: FloatArray, start: int, needs: FloatArray) -> FloatArray:
    """Day on which each row has each need, ``[rows, needs]``; beyond its days at its mean rate."""
    days = sums.shape[1] - 1
    found = np.empty((sums.shape[0], len(needs)))
    for row in range(sums.shape[0]):
        for number in range(len(needs)):
            need = needs[number] + sums[row, start]
            last = sums[row, days]
            if need > last:
                more = (need - last) / max(last - sums[row, start], 1e-3) * (days - start)
                found[row, number] = days + min(more, 10.0 * days)
                continue
            at = max(np.searchsorted(sums[row], need), 1)
            step = sums[row, at] - sums[row, at - 1]
            inside = (need - sums[row, at - 1]) / step if step > 0.0 else 0.0
            found[row, number] = at - 1 + min(max(inside, 0.0), 1.0)
    return found
