"""A weekly fan: the middle of all possible seasons as a line, eight in ten of them as a band."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

from phenocast.report.dates import week_days
from phenocast.report.figures.axes import as_of_line, head, label, month_axis, plain_numbers
from phenocast.report.figures.canvas import NARROW, draw
from phenocast.report.figures.palette import SERIES
from phenocast.report.reader import Reader

if TYPE_CHECKING:
    from matplotlib.figure import Figure


@dataclass(frozen=True)
class Fan:
    """Weeks with the low, middle and high of something.

    Parameters
    ----------
    weeks : sequence of str
        ISO weeks in order.
    low, middle, high : sequence of float
        P10, P50 and P90 of each week, in the unit of the page.
    unit : str
        What the vertical axis counts, with its unit.
    digits : int
        Decimals on the vertical axis.
    """

    weeks: Sequence[str]
    low: Sequence[float]
    middle: Sequence[float]
    high: Sequence[float]
    unit: str
    digits: int = 0


def fan_figure(
    key: str,
    fan: Fan,
    reader: Reader,
    *,
    title: str,
    alt: str,
    issue_date: date | None = None,
    first: date | None = None,
    width: float = NARROW,
    height: float = 270.0,
) -> str:
    """Weekly fan as SVG; see `draw` for ``key``, ``title`` and ``alt``.

    Parameters
    ----------
    fan : Fan
        At least one week.
    reader : Reader
    issue_date : date, optional
        Drawn where it lies inside the weeks shown.
    first : date, optional
        Where the axis begins, if before the first week.

    Examples
    --------
    >>> fan = Fan(["2026-W45", "2026-W46"], [0.0, 1.0], [1.0, 3.0], [2.0, 6.0], "trays a week")
    >>> "trays a week" in fan_figure("trays", fan, Reader(), title="Trays", alt="Two weeks.")
    True
    """

    def paint(figure: Figure) -> None:
        axes = figure.add_axes(
            (62.0 / width, 48.0 / height, 1.0 - 74.0 / width, 1.0 - 82.0 / height)
        )
        begin = min(first or week_days(fan.weeks[0])[0], week_days(fan.weeks[0])[0])
        month_axis(axes, begin, week_days(fan.weeks[-1])[1], reader)
        middles = [week_days(week)[0].toordinal() + 3 for week in fan.weeks]
        series = SERIES[0]
        axes.fill_between(
            middles, fan.low, fan.high, color=series.colour, alpha=0.22, linewidth=0.0
        )
        axes.plot(middles, fan.middle, color=series.colour, marker=series.marker, markersize=3.0)
        axes.set_ylim(0.0, max(1e-9, *fan.high) * 1.12)
        plain_numbers(axes, reader, fan.digits)
        head(axes, fan.unit)
        if issue_date is not None:
            words = reader.say("common.as_of_label", date=reader.calendar.day(issue_date))
            as_of_line(axes, issue_date, words)
        peak = max(range(len(fan.weeks)), key=lambda number: fan.high[number])
        late = peak > 0.5 * len(fan.weeks)
        for name, values in (("high", fan.high), ("middle", fan.middle), ("low", fan.low)):
            at = (float(middles[peak]), values[peak])
            label(axes, reader.say(f"common.{name}"), at, below=name == "low", left=late)

    return draw(key, paint, title=title, alt=alt, width=width, height=height)
