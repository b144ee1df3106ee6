"""Small panels side by side on the same scale: one a bed, the same lines in each."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from phenocast.report.figures.axes import plain_numbers
from phenocast.report.figures.canvas import NARROW, draw
from phenocast.report.figures.palette import SERIES, ink
from phenocast.report.reader import Reader

if TYPE_CHECKING:
    from matplotlib.artist import Artist
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

MOST_PANELS = 8
_TOP, _HEAD, _PANEL, _FOOT, _GAP = 20.0, 24.0, 122.0, 58.0, 18.0
_LEFT, _RIGHT, _BETWEEN = 44.0, 10.0, 24.0


@dataclass(frozen=True)
class Panel:
    """One bed.

    Parameters
    ----------
    name : str
        Above the panel; at most about thirty letters.
    lines : sequence of sequence of float
        One a name of `Panels.names`, each as long as `Panels.places`.
    places : sequence of float
        Where the values lie along the bottom.
    """

    name: str
    lines: Sequence[Sequence[float]]
    places: Sequence[float]


@dataclass(frozen=True)
class Panels:
    """Panels with the same lines on the same scale.

    Parameters
    ----------
    panels : sequence of Panel
        At most `MOST_PANELS`.
    names : sequence of str
        What the lines are, at most four.
    level, level_name : float, str
        A level drawn through every panel, and its name.
    head : str
        What the vertical axes count, with the unit.
    foot : str
        What runs along the bottom, with the unit.
    marks : int
        Every so many values carry the marker of the line.
    """

    panels: Sequence[Panel]
    names: Sequence[str]
    level: float
    level_name: str
    head: str
    foot: str
    marks: int


def panels_figure(
    key: str,
    shown: Panels,
    reader: Reader,
    bottom: Callable[[Axes, bool], None],
    *,
    title: str,
    alt: str,
) -> str:
    """Panels as SVG in two columns; see `draw`.

    Parameters
    ----------
    bottom : callable
        Prepares the horizontal axis of a panel; told whether to write its scale.
    """
    rows = (len(shown.panels) + 1) // 2
    legend = 18.0 * ((len(shown.names) + 2) // 2)
    height = _TOP + rows * (_HEAD + _PANEL) + (rows - 1) * (_GAP - 10.0) + _FOOT + legend + 8.0
    width = (NARROW - _LEFT - _RIGHT - _BETWEEN) / 2.0

    def paint(figure: Figure) -> None:
        values = [value for one in shown.panels for line in one.lines for value in line]
        low, high = min(*values, shown.level), max(*values, shown.level)
        figure.text(4.0 / NARROW, 1.0 - 14.0 / height, shown.head)
        handles: list[Artist] = []
        for number, one in enumerate(shown.panels):
            row, column = divmod(number, 2)
            top = _TOP + row * (_HEAD + _PANEL + _GAP - 10.0) + _HEAD
            axes = figure.add_axes(
                (
                    (_LEFT + column * (width + _BETWEEN)) / NARROW,
                    1.0 - (top + _PANEL) / height,
                    width / NARROW,
                    _PANEL / height,
                )
            )
            bottom(axes, number >= len(shown.panels) - 2)
            handles = _lines(axes, one, shown)
            axes.set_ylim(low - 0.03 * (high - low), high + 0.05 * (high - low))
            plain_numbers(axes, reader)
            if column:
                axes.set_yticklabels([])
            axes.set_title(one.name, y=1.0, pad=4.0)
        names = [*shown.names, shown.level_name]
        figure.legend(
            handles, names, loc="lower left", ncols=2, bbox_to_anchor=(0.0, 0.0),
            borderaxespad=0.2, handlelength=3.2, columnspacing=1.4, labelspacing=0.25,
        )  # fmt: skip
        figure.text(
            _LEFT / NARROW, (legend + 8.0) / height, shown.foot, color=ink("quiet"), va="bottom"
        )

    return draw(key, paint, title=title, alt=alt, height=height)


def _lines(axes: Axes, one: Panel, shown: Panels) -> list[Artist]:
    """Draw the lines of a panel and the level; return them for the legend."""
    handles: list[Artist] = []
    for series, line in zip(SERIES, one.lines, strict=False):
        handles += axes.plot(
            one.places, line, color=series.colour, linestyle=series.dashes, linewidth=1.7,
            marker=series.marker, markersize=4.0, markevery=(shown.marks // 2, shown.marks),
        )  # fmt: skip
    handles.append(axes.axhline(shown.level, color=ink("ink"), linewidth=1.3))
    return handles
