"""Grids: a map of options by planting date and film, and small panels on one scale, one a bed."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from phenocast.report.columns import plain
from phenocast.report.figures.canvas import NARROW, SERIES, SMALL, WIDE, draw, ink, plain_numbers
from phenocast.report.reader import Reader

if TYPE_CHECKING:
    from collections.abc import Callable

    from matplotlib.artist import Artist
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


ROW, TOP, FOOT, LEFT = 34.0, 26.0, 8.0, 124.0
NAME_PLACES = 18
CELL_WITH_NUMBER, CELL_WITH_DATE = 34.0, 44.0
MOST_DATES_NARROW = 8
STAR, NEAR, FLAG = "\u2605", "\u2248", "!"


@dataclass(frozen=True)
class OptionMap:
    """What is drawn.

    Parameters
    ----------
    dates, films : sequence of str
        In words, short.
    values : sequence of sequence of float or None
        One row a film, one value a date; None where there is no such option.
    near : sequence of sequence of bool
        Options that are not clearly worse than the best of all.
    flagged : sequence of sequence of bool
        Options that the engine flags, which are not recommended.
    best : pair of int or None
        Row and column of the best of all, where it lies on this map.
    low, high : float
        Of all maps of the page, so that their shades agree.
    """

    dates: Sequence[str]
    films: Sequence[str]
    values: Sequence[Sequence[float | None]]
    near: Sequence[Sequence[bool]]
    flagged: Sequence[Sequence[bool]]
    best: tuple[int, int] | None
    low: float
    high: float


def option_map_figure(
    key: str, options: OptionMap, number: Callable[[float], str], *, title: str, alt: str
) -> str:
    """Map as SVG; see `draw`. ``number`` writes a value into its field.

    Examples
    --------
    >>> one = OptionMap(["1 Oct", "8 Oct"], ["black"], [[3.0, 4.0]], [[False, True]],
    ...                 [[False, False]], (0, 1), 3.0, 4.0)
    >>> svg = option_map_figure("map", one, "{:.0f}".format, title="Map", alt="One film.")
    >>> "black" in svg and STAR in svg
    True
    """
    width = NARROW if len(options.dates) <= MOST_DATES_NARROW else WIDE
    height = TOP + FOOT + ROW * len(options.films)

    def paint(figure: Figure) -> None:
        axes = figure.add_axes(
            (LEFT / width, FOOT / height, 1.0 - (LEFT + 2.0) / width, 1.0 - (TOP + FOOT) / height)
        )
        columns = len(options.dates)
        cell = (width - LEFT - 2.0) / columns
        axes.set(xlim=(0.0, columns), ylim=(len(options.films), 0.0))
        axes.set_axis_off()
        every = max(1, round(CELL_WITH_DATE / cell + 0.49))
        for column, name in enumerate(options.dates):
            if column % every == 0:
                axes.annotate(
                    name, (column + 0.5, 0.0), xytext=(0, 6), textcoords="offset points",
                    ha="center", color=ink("quiet"), fontsize=SMALL, annotation_clip=False,
                )  # fmt: skip
        for row, film in enumerate(options.films):
            axes.annotate(
                plain(film, NAME_PLACES), (0.0, row + 0.5), xytext=(-LEFT + 2.0, 0),
                textcoords="offset points", va="center", color=ink("ink"), fontsize=SMALL,
                annotation_clip=False,
            )  # fmt: skip
            for column in range(columns):
                _field(axes, options, row, column, number if cell >= CELL_WITH_NUMBER else None)

    return draw(key, paint, title=title, alt=alt, width=width, height=height)


def _field(
    axes: object, options: OptionMap, row: int, column: int, number: Callable[[float], str] | None
) -> None:
    """One option: its shade, its number where there is room, its mark."""
    from matplotlib.patches import Rectangle

    value = options.values[row][column]
    if value is None:
        return
    room = options.high - options.low
    share = (value - options.low) / room if room > 0.0 else 1.0
    field = Rectangle(
        (column + 0.03, row + 0.04), 0.94, 0.92, facecolor=ink("accent"),
        alpha=0.06 + 0.34 * share, linewidth=0.0,
    )  # fmt: skip
    axes.add_patch(field)  # type: ignore[attr-defined]
    marks = (
        (STAR, options.best == (row, column)),
        (FLAG, options.flagged[row][column]),
        (NEAR, options.near[row][column]),
    )
    mark = next((sign for sign, holds in marks if holds), "")
    words = f"{mark}{number(value)}" if number is not None else mark
    if words:
        axes.annotate(  # type: ignore[attr-defined]
            words, (column + 0.5, row + 0.5), ha="center", va="center", color=ink("ink"),
            fontsize=SMALL, fontweight="bold" if mark == STAR else "normal",
        )  # fmt: skip


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
