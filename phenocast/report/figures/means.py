"""Means of a trial as points in rows, with the standard error of a difference drawn to scale."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from phenocast.report.figures.axes import SMALL
from phenocast.report.figures.canvas import NARROW, draw
from phenocast.report.figures.palette import SERIES, ink
from phenocast.report.reader import Reader

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from matplotlib.ticker import Locator

ROW, TOP, FOOT = 19.0, 34.0, 42.0
MOST_LETTERS = 20


@dataclass(frozen=True)
class Means:
    """Groups of rows: the levels of one factor, and within each the means of the other.

    Parameters
    ----------
    groups : sequence of (str, sequence of (str, float))
        Name of a group, and its rows with their means in the unit of the response.
    error : float
        Standard error of the difference of two means of a group.
    digits : int
        Decimals of the numbers beside the points.
    """

    groups: Sequence[tuple[str, Sequence[tuple[str, float]]]]
    error: float
    digits: int


def means_figure(
    key: str, means: Means, reader: Reader, *, title: str, alt: str, response: str, scale: str
) -> str:
    """Means as SVG; see `draw`. ``response`` is what the axis counts, ``scale`` names the bar.

    Examples
    --------
    >>> means = Means([("Marl", [("black", 4.0), ("silver", 5.5)])], 0.4, 1)
    >>> svg = means_figure("m", means, Reader(), title="Means", alt="Two.", response="g",
    ...                    scale="SED")
    >>> "Marl" in svg and "5.5" in svg
    True
    """
    rows = sum(len(members) + 1 for _, members in means.groups)
    height = TOP + FOOT + ROW * rows

    def paint(figure: Figure) -> None:
        left = 132.0 / NARROW
        axes = figure.add_axes((left, FOOT / height, 1.0 - left - 0.1, ROW * rows / height))
        values = [mean for _, members in means.groups for _, mean in members]
        low, high = min(values), max(values)
        room = max(high - low, means.error, 1e-9)
        axes.set_xlim(low - 0.12 * room, high + 0.12 * room)
        axes.set_ylim(rows - 0.5, -0.5)
        axes.set_yticks([])
        axes.grid(visible=False)
        axes.spines["left"].set_visible(False)
        row, mark = 0, SERIES[0]
        for group, members in means.groups:
            _name(axes, group, row, bold=True)
            for name, mean in members:
                row += 1
                axes.axhline(row, color=ink("rule"), linewidth=0.7, zorder=0)
                axes.plot(mean, row, marker=mark.marker, markersize=6.5, color=mark.colour)
                _name(axes, name, row)
                axes.annotate(
                    reader.number(mean, means.digits), (1.0, row),
                    xycoords=("axes fraction", "data"), xytext=(4, 0), textcoords="offset points",
                    va="center", color=ink("ink"), fontsize=SMALL, annotation_clip=False,
                )  # fmt: skip
            row += 1
        axes.set_xlabel(response)
        axes.xaxis.set_major_locator(_few())
        axes.xaxis.set_major_formatter(lambda value, _: reader.plain_value(round(float(value), 9)))
        bar = 1.0 + 10.0 / (ROW * rows)
        axes.plot(
            [low, low + means.error], [bar, bar], transform=axes.get_xaxis_transform(),
            color=ink("accent"), linewidth=4.0, clip_on=False, solid_capstyle="butt",
        )  # fmt: skip
        axes.annotate(
            scale, (low, bar), xycoords=("data", "axes fraction"), xytext=(0, 5),
            textcoords="offset points", va="bottom", color=ink("accent"), fontsize=SMALL,
            annotation_clip=False,
        )  # fmt: skip

    return draw(key, paint, title=title, alt=alt, height=height)


def _few() -> Locator:
    from matplotlib.ticker import MaxNLocator

    return MaxNLocator(nbins=4, min_n_ticks=2)


def _name(axes: Axes, text: str, row: int, *, bold: bool = False) -> None:
    """Name of a row at the left edge; a member stands further in than its group."""
    short = text if len(text) <= MOST_LETTERS else text[: MOST_LETTERS - 1] + "…"
    axes.annotate(
        short, (0.0, row), xycoords=("axes fraction", "data"), xytext=(-126 if bold else -114, 0),
        textcoords="offset points", va="center", annotation_clip=False, fontsize=SMALL,
        color=ink("ink"), fontweight="bold" if bold else "normal",
    )  # fmt: skip
