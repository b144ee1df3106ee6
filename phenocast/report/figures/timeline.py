"""The season of one block on one calendar: crown against the cut-off, heat, stages, first pick."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import TYPE_CHECKING

from phenocast.report.dates import week_days
from phenocast.report.figures.axes import (
    SMALL,
    as_of_line,
    head,
    label,
    month_axis,
    percents,
    plain_numbers,
)
from phenocast.report.figures.canvas import NARROW, draw
from phenocast.report.figures.palette import SERIES, ink
from phenocast.report.reader import Reader

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Band = tuple[Sequence[float], Sequence[float], Sequence[float]]
HEIGHT = 600.0
_TOPS = (22.0, 182.0, 316.0, 450.0)
_BOTTOMS = (148.0, 282.0, 416.0, 556.0)
_LEFT, _RIGHT = 52.0, 12.0


@dataclass(frozen=True)
class Timeline:
    """Weeks of a block, in the units of the page.

    Parameters
    ----------
    first, last : date
        Of the calendar that is shown.
    weeks : sequence of str
        ISO weeks of the rows below.
    crown_max, crown_mean, heat : three sequences of float each
        P10, P50 and P90 of each week.
    cut_off : float
        Crown temperature above which heat counts.
    reached : sequence of (name, sequence of float)
        At most three stages, each with the share of seasons that has reached it by each week's end.
    pick_weeks : sequence of str
    pick_chances : sequence of float
        Probability that the first pick falls into each of these weeks.
    """

    first: date
    last: date
    weeks: Sequence[str]
    crown_max: Band
    crown_mean: Band
    heat: Band
    cut_off: float
    reached: Sequence[tuple[str, Sequence[float]]]
    pick_weeks: Sequence[str]
    pick_chances: Sequence[float]


def timeline_figure(
    key: str, line: Timeline, reader: Reader, *, title: str, alt: str, issue_date: date
) -> str:
    """Season of a block as SVG: four panels above one calendar; see `draw`."""

    def paint(figure: Figure) -> None:
        panels = [
            figure.add_axes(
                (
                    _LEFT / NARROW,
                    1.0 - bottom / HEIGHT,
                    1.0 - (_LEFT + _RIGHT) / NARROW,
                    (bottom - top) / HEIGHT,
                )
            )
            for top, bottom in zip(_TOPS, _BOTTOMS, strict=True)
        ]
        for number, axes in enumerate(panels):
            month_axis(axes, line.first, line.last, reader, words=number == len(panels) - 1)
        _crown(panels[0], line, reader)
        _heat(panels[1], line, reader)
        _stages(panels[2], line, reader)
        _first_pick(panels[3], line, reader)
        words = reader.say("common.as_of_label", date=reader.calendar.day(issue_date))
        for number, axes in enumerate(panels):
            as_of_line(axes, issue_date, words if number == 0 else "")

    return draw(key, paint, title=title, alt=alt, height=HEIGHT)


def _middles(weeks: Sequence[str]) -> list[int]:
    return [week_days(week)[0].toordinal() + 3 for week in weeks]


def _crown(axes: Axes, line: Timeline, reader: Reader) -> None:
    places = _middles(line.weeks)
    for series, band in ((SERIES[1], line.crown_max), (SERIES[0], line.crown_mean)):
        low, middle, high = band
        axes.fill_between(places, low, high, color=series.colour, alpha=0.18, linewidth=0.0)
        axes.plot(places, middle, color=series.colour, linestyle=series.dashes,
                  marker=series.marker, markersize=3.5)  # fmt: skip
    highest, lowest = line.crown_max[2], line.crown_mean[0]
    peak = max(range(len(highest)), key=lambda number: highest[number])
    label(axes, reader.say("forecast.figure.highest"), (places[peak], highest[peak]),
          left=peak > 0.7 * len(highest))  # fmt: skip
    third = len(lowest) // 3
    label(axes, reader.say("forecast.figure.mean"), (places[third], lowest[third]), below=True)
    axes.axhline(line.cut_off, color=ink("ink"), linewidth=1.6)
    bottom = min(*line.crown_mean[0], line.cut_off)
    top = max(*line.crown_max[2], line.cut_off)
    axes.set_ylim(bottom - 0.14 * (top - bottom), top + 0.22 * (top - bottom))
    cut = reader.say("forecast.figure.cut_off", degrees=reader.number(line.cut_off))
    axes.annotate(cut, (line.last.toordinal(), line.cut_off), xytext=(-2, 2), ha="right",
                  textcoords="offset points", va="bottom", color=ink("ink"))  # fmt: skip
    plain_numbers(axes, reader)
    head(axes, reader.say("forecast.figure.crown", unit=reader.unit("temperature")))


def _heat(axes: Axes, line: Timeline, reader: Reader) -> None:
    places = _middles(line.weeks)
    low, middle, high = line.heat
    axes.bar(places, middle, width=5.0, color=SERIES[1].colour, alpha=0.75)
    axes.vlines(places, low, high, color=ink("ink"), linewidth=1.2)
    axes.set_ylim(0.0, max(1.0, *high) * 1.15)
    plain_numbers(axes, reader)
    head(axes, reader.say("forecast.figure.heat", unit=reader.unit("heat")))


def _stages(axes: Axes, line: Timeline, reader: Reader) -> None:
    ends = [week_days(week)[1].toordinal() for week in line.weeks]
    for series, (name, shares), height in zip(
        SERIES, line.reached, (0.84, 0.56, 0.28), strict=False
    ):
        axes.plot(ends, shares, color=series.colour, linestyle=series.dashes,
                  marker=series.marker, markersize=4.5)  # fmt: skip
        crossing = next((n for n, share in enumerate(shares) if share >= height), None)
        if crossing is None:
            crossing = len(shares) - 1
        left = crossing > 0.75 * len(shares)
        label(axes, name, (ends[crossing], shares[crossing]), below=True, left=left)
    axes.set_ylim(0.0, 1.05)
    axes.set_yticks([0.0, 0.5, 1.0], [reader.percent(share) for share in (0.0, 0.5, 1.0)])
    head(axes, reader.say("forecast.figure.stages"))


def _first_pick(axes: Axes, line: Timeline, reader: Reader) -> None:
    axes.bar(_middles(line.pick_weeks), line.pick_chances, width=5.6, color=SERIES[0].colour)
    top = max([0.05, *line.pick_chances])
    axes.set_ylim(0.0, top * 1.25)
    for week, chance in zip(line.pick_weeks, line.pick_chances, strict=True):
        if chance > 0.02:
            axes.annotate(reader.percent(chance), (week_days(week)[0].toordinal() + 3, chance),
                          xytext=(0, 2), textcoords="offset points", ha="center", va="bottom",
                          color=ink("ink"), fontsize=SMALL)  # fmt: skip
    percents(axes, reader)
    head(axes, reader.say("forecast.figure.first_pick"))


def shown_weeks(planting: date, last_day: date, last_pick_week: str | None) -> tuple[date, date]:
    """First and last day of the calendar: to two weeks behind the last week of a first pick.

    Examples
    --------
    >>> shown_weeks(date(2026, 9, 25), date(2027, 7, 21), "2026-W48")
    (datetime.date(2026, 9, 21), datetime.date(2026, 12, 13))
    """
    first = planting - timedelta(days=planting.weekday())
    if last_pick_week is None:
        return first, last_day
    return first, min(last_day, week_days(last_pick_week)[1] + timedelta(days=14))
