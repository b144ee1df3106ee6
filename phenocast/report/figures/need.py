"""People needed against people planned, week by week, with the risk that they do not suffice."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import TYPE_CHECKING

import numpy as np

from phenocast.report.dates import week_days
from phenocast.report.figures.axes import (
    SMALL,
    as_of_line,
    head,
    month_axis,
    percents,
    plain_numbers,
)
from phenocast.report.figures.canvas import NARROW, draw
from phenocast.report.figures.palette import SERIES
from phenocast.report.reader import Reader

if TYPE_CHECKING:
    from matplotlib.figure import Figure

HEIGHT = 420.0


@dataclass(frozen=True)
class Need:
    """Weeks of a plan.

    Parameters
    ----------
    weeks : sequence of str
        ISO weeks in order.
    middle, high : sequence of float
        P50 and P90 of the people needed.
    planned : sequence of int
        Core crew.
    core_short, all_short : sequence of float
        Probability that the core crew in its contract hours does not suffice, and that not even
        everybody and all hours do.
    """

    weeks: Sequence[str]
    middle: Sequence[float]
    high: Sequence[float]
    planned: Sequence[int]
    core_short: Sequence[float]
    all_short: Sequence[float]


def need_figure(
    key: str, need: Need, reader: Reader, *, title: str, alt: str, issue_date: date
) -> str:
    """People and risk as SVG, in two panels above one calendar; see `draw`.

    Examples
    --------
    >>> need = Need(["2026-W45", "2026-W46"], [3.0, 4.0], [5.0, 6.0], [4, 4], [0.2, 0.6],
    ...             [0.0, 0.1])
    >>> svg = need_figure("crew", need, Reader(), title="Crew", alt="Two weeks.",
    ...                   issue_date=date(2026, 10, 31))
    >>> "Core crew" in svg
    True
    """

    def paint(figure: Figure) -> None:
        say = reader.say
        left, width = 44.0 / NARROW, 1.0 - 56.0 / NARROW
        people = figure.add_axes((left, 178.0 / HEIGHT, width, 194.0 / HEIGHT))
        risk = figure.add_axes((left, 44.0 / HEIGHT, width, 84.0 / HEIGHT))
        begin, end = week_days(need.weeks[0])[0], week_days(need.weeks[-1])[1]
        begin = min(begin, issue_date - timedelta(days=3))
        month_axis(people, begin, end, reader, words=False)
        month_axis(risk, begin, end, reader)
        mondays = np.array([week_days(week)[0].toordinal() for week in need.weeks], dtype=float)
        edges = np.append(mondays, mondays[-1] + 7.0)
        people.fill_between(
            mondays + 3.5,
            need.middle,
            need.high,
            color=SERIES[0].colour,
            alpha=0.22,
            linewidth=0.0,
            label=say("common.high"),
        )
        people.plot(
            mondays + 3.5, need.middle, color=SERIES[0].colour, marker=SERIES[0].marker,
            markersize=2.5, label=say("common.middle"),
        )  # fmt: skip
        people.stairs(
            need.planned,
            edges,
            color=SERIES[1].colour,
            linestyle=SERIES[1].dashes,
            linewidth=2.2,
            label=say("labour.figure.core"),
        )
        people.set_ylim(0.0, 1.15 * max(1.0, *need.high, *need.planned))
        plain_numbers(people, reader)
        head(people, say("labour.figure.people"))
        for axes in (people, risk):
            as_of_line(axes, issue_date)
        people.legend(
            loc="lower right", bbox_to_anchor=(1.0, 1.08), ncols=3, borderaxespad=0.0,
            columnspacing=1.2, handlelength=1.6, handletextpad=0.5, fontsize=SMALL,
        )  # fmt: skip
        risk.bar(mondays + 3.5, need.core_short, width=5.6, color=SERIES[0].colour, alpha=0.35)
        risk.bar(mondays + 3.5, need.all_short, width=5.6, color=SERIES[1].colour)
        risk.set_ylim(0.0, 1.0)
        percents(risk, reader)
        head(risk, say("labour.figure.risk"))

    return draw(key, paint, title=title, alt=alt, width=NARROW, height=HEIGHT)
