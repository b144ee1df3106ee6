"""A caterpillar plot: every cultivar with its middle, 80 and 95 % interval, the best at the top."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from phenocast.report.columns import plain
from phenocast.report.figures.axes import SMALL, head
from phenocast.report.figures.canvas import NARROW, draw
from phenocast.report.figures.palette import SERIES, ink
from phenocast.report.reader import Reader

if TYPE_CHECKING:
    from matplotlib.figure import Figure

ROW = 26.0
MARGIN_TOP, MARGIN_BOTTOM, MARGIN_LEFT = 34.0, 34.0, 118.0
NAME_PLACES = 16


@dataclass(frozen=True)
class Crawler:
    """One row of the plot, in the unit of the axis.

    Parameters
    ----------
    name : str
    middle : float
    narrow, wide : pairs of float
        The 80 and the 95 % interval.
    may_be_best : bool
        Drawn full where it cannot be told from the best, and hollow where it can.
    """

    name: str
    middle: float
    narrow: tuple[float, float]
    wide: tuple[float, float]
    may_be_best: bool


def caterpillar_figure(
    key: str,
    rows: Sequence[Crawler],
    reader: Reader,
    *,
    unit: str,
    digits: int,
    title: str,
    alt: str,
    width: float = NARROW,
) -> str:
    """Caterpillar plot as SVG; see `draw` for ``key``, ``title`` and ``alt``.

    Parameters
    ----------
    rows : sequence of Crawler
        The best first, at least one.
    reader : Reader
    unit : str
        What the horizontal axis counts, with its unit.
    digits : int
        Decimals on it.

    Examples
    --------
    >>> rows = [Crawler("Gneiss", 5.0, (4.0, 6.0), (3.0, 7.0), True)]
    >>> svg = caterpillar_figure("ranks", rows, Reader(), unit="% lost", digits=0, title="Ranks",
    ...                          alt="Gneiss 5 %.")
    >>> "Gneiss" in svg, "% lost" in svg
    (True, True)
    """
    height = MARGIN_TOP + MARGIN_BOTTOM + ROW * len(rows)

    def paint(figure: Figure) -> None:
        from matplotlib.ticker import FuncFormatter, MaxNLocator

        axes = figure.add_axes(
            (MARGIN_LEFT / width, MARGIN_BOTTOM / height, 1.0 - (MARGIN_LEFT + 14.0) / width,
             ROW * len(rows) / height)
        )  # fmt: skip
        colour = SERIES[0].colour
        for number, row in enumerate(rows):
            axes.plot(row.wide, (number, number), color=colour, linewidth=1.2)
            axes.plot(row.narrow, (number, number), color=colour, linewidth=4.0, alpha=0.55)
            axes.plot(
                [row.middle], [number], marker="o", markersize=7.0, color=colour,
                markerfacecolor=colour if row.may_be_best else ink("ground"),
            )  # fmt: skip
        axes.grid(visible=False, axis="y")
        axes.grid(visible=True, axis="x")
        low = min(row.wide[0] for row in rows)
        high = max(row.wide[1] for row in rows)
        room = max(0.04 * (high - low), 1e-9)
        axes.set_xlim(low - room, high + room)
        if low <= 0.0 <= high:
            axes.axvline(0.0, color=ink("quiet"), linewidth=0.8)
        axes.set_ylim(len(rows) - 0.5, -0.5)
        axes.set_yticks(range(len(rows)))
        axes.set_yticklabels([plain(row.name, NAME_PLACES) for row in rows])
        axes.tick_params(axis="y", labelcolor=ink("ink"), labelsize=SMALL)
        axes.xaxis.set_major_locator(MaxNLocator(nbins=6))
        axes.xaxis.set_major_formatter(FuncFormatter(lambda value, _: reader.number(value, digits)))
        head(axes, unit)

    return draw(key, paint, title=title, alt=alt, width=width, height=height)
