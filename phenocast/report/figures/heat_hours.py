"""Hours of each week above the heat limit: in the middle season and in one of ten."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from phenocast.report.dates import week_days
from phenocast.report.figures.axes import head, month_axis, plain_numbers
from phenocast.report.figures.canvas import NARROW, draw
from phenocast.report.figures.palette import SERIES, ink
from phenocast.report.reader import Reader

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

HEIGHT = 320.0


@dataclass(frozen=True)
class HeatHours:
    """Weeks in order, and the hours above the limit in each, as P50 and P90. [h]"""

    weeks: Sequence[str]
    new: Sequence[tuple[float, float]]
    used: Sequence[tuple[float, float]]


def heat_hours_figure(key: str, hours: HeatHours, reader: Reader, *, title: str, alt: str) -> str:
    """Hours for a crew that is not used to the heat above those for one that is; see `draw`.

    Examples
    --------
    >>> hours = HeatHours(["2027-W20", "2027-W21"], [(3.0, 8.0), (5.0, 9.0)], [(0.0, 1.0)] * 2)
    >>> "New crew" in heat_hours_figure("heat", hours, Reader(), title="Heat", alt="Two weeks.")
    True
    """

    def paint(figure: Figure) -> None:
        left, width = 44.0 / NARROW, 1.0 - 56.0 / NARROW
        upper = figure.add_axes((left, 192.0 / HEIGHT, width, 100.0 / HEIGHT))
        lower = figure.add_axes((left, 44.0 / HEIGHT, width, 100.0 / HEIGHT))
        begin, end = week_days(hours.weeks[0])[0], week_days(hours.weeks[-1])[1]
        month_axis(upper, begin, end, reader, words=False)
        month_axis(lower, begin, end, reader)
        most = max(1.0, *(high for _, high in [*hours.new, *hours.used]))
        for axes, rows, number, words in (
            (upper, hours.new, 1, "labour.figure.new"),
            (lower, hours.used, 0, "labour.figure.used"),
        ):  # fmt: skip
            _bars(axes, hours.weeks, rows, SERIES[number].colour)
            axes.set_ylim(0.0, 1.1 * most)
            plain_numbers(axes, reader)
            head(axes, reader.say(words))

    return draw(key, paint, title=title, alt=alt, width=NARROW, height=HEIGHT)


def _bars(
    axes: Axes, weeks: Sequence[str], rows: Sequence[tuple[float, float]], colour: str
) -> None:
    """A full bar for the middle season and a pale one above it for one season in ten."""
    at = np.array([week_days(week)[0].toordinal() + 3.5 for week in weeks])
    axes.bar(at, [high for _, high in rows], width=5.6, color=colour, alpha=0.35)
    axes.bar(at, [middle for middle, _ in rows], width=5.6, color=colour)
    axes.axhline(0.0, color=ink("quiet"), linewidth=0.8)
