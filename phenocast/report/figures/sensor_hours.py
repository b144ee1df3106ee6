"""Errors of a sensor by hour of the day, before and after a fit."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from phenocast.report.figures.axes import head, label, plain_numbers
from phenocast.report.figures.canvas import NARROW, draw
from phenocast.report.figures.palette import SERIES, ink
from phenocast.report.reader import Reader

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


@dataclass(frozen=True)
class ByHour:
    """RMSE and bias (predicted less measured) by hour of local standard time, as drawn. [unit]"""

    hours: Sequence[int]
    rmse: tuple[Sequence[float], Sequence[float]]
    bias: tuple[Sequence[float], Sequence[float]]


@dataclass(frozen=True)
class Labels:
    """What the panels count, what the bottom axis counts, and the names of the two lines."""

    rmse: str
    bias: str
    hour: str
    before: str
    after: str


def sensor_hours_figure(
    key: str, errors: ByHour, reader: Reader, *, labels: Labels, title: str, alt: str
) -> str:
    """RMSE above, bias below; see `draw` for the rest.

    Examples
    --------
    >>> errors = ByHour([0, 12], ([1.0, 2.0], [0.5, 0.6]), ([0.2, 1.0], [0.0, 0.1]))
    >>> svg = sensor_hours_figure("film", errors, Reader(), title="t", alt="a",
    ...                           labels=Labels("RMSE", "bias", "hour", "before", "after"))
    >>> "before" in svg and "RMSE" in svg
    True
    """
    height = 340.0

    def paint(figure: Figure) -> None:
        each = (height - 128.0) / 2.0
        left, span = 48.0 / NARROW, 1.0 - 66.0 / NARROW
        top = figure.add_axes((left, (48.0 + each + 48.0) / height, span, each / height))
        below = figure.add_axes((left, 48.0 / height, span, each / height))
        panels = ((top, errors.rmse, labels.rmse), (below, errors.bias, labels.bias))
        for axes, lines, words in panels:
            _lines(axes, errors.hours, lines)
            head(axes, words)
            plain_numbers(axes, reader, 2 if max(map(max, lines)) < 1.0 else 1)
        top.set_ylim(bottom=0.0)
        below.axhline(0.0, color=ink("quiet"), linewidth=1.0, zorder=1)
        below.set_xlabel(labels.hour)
        before, after = errors.rmse
        # where the lines lie farthest apart, one name above and the other below
        at = max(range(len(before)), key=lambda place: abs(before[place] - after[place]))
        hour, up = errors.hours[at], before[at] >= after[at]
        label(top, labels.before, (hour, before[at]), below=not up, left=hour > 16)
        label(top, labels.after, (hour, after[at]), below=up, left=hour > 16)

    return draw(key, paint, title=title, alt=alt, height=height)


def _lines(axes: Axes, hours: Sequence[int], lines: Sequence[Sequence[float]]) -> None:
    for series, values in zip((SERIES[1], SERIES[0]), lines, strict=True):
        axes.plot(hours, values, color=series.colour, linestyle=series.dashes,
                  marker=series.marker, markersize=3.0, linewidth=1.5)  # fmt: skip
    axes.set_xlim(-0.5, 23.5)
    axes.set_xticks([0, 6, 12, 18, 23])
    axes.margins(y=0.22)
