"""Whether stated probabilities came true: held against stated, and where observations fell."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from phenocast.report.figures.axes import SMALL, head, percents
from phenocast.report.figures.canvas import NARROW, draw
from phenocast.report.figures.palette import SERIES, ink
from phenocast.report.reader import Reader

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


@dataclass(frozen=True)
class Held:
    """One series: its name and the share of intervals of each level that held."""

    name: str
    shares: Sequence[float]


@dataclass(frozen=True)
class Places:
    """One series: its name and how many observations fell into each equal slice of probability."""

    name: str
    counts: Sequence[float]


def reliability_figure(
    key: str,
    levels: Sequence[float],
    series: Sequence[Held],
    reader: Reader,
    *,
    stated: str,
    held: str,
    title: str,
    alt: str,
    width: float = NARROW,
    height: float = 300.0,
) -> str:
    """Share of intervals that held against the share stated, as SVG; see `draw` for the rest.

    Parameters
    ----------
    levels : sequence of float
        Stated shares, 0 to 1, rising.
    series : sequence of Held
        One to four.
    reader : Reader
    stated, held : str
        What the axes count.

    Examples
    --------
    >>> svg = reliability_figure("rel", [0.5, 0.8], [Held("dates", [0.4, 0.9])], Reader(),
    ...                          stated="stated", held="held", title="t", alt="a")
    >>> "dates" in svg and "stated" in svg
    True
    """

    def paint(figure: Figure) -> None:
        from matplotlib.ticker import FuncFormatter

        axes = figure.add_axes(
            (52.0 / width, 46.0 / height, 1.0 - 76.0 / width, 1.0 - 80.0 / height)
        )
        axes.plot([0.0, 1.0], [0.0, 1.0], color=ink("quiet"), linewidth=1.0, linestyle=(0, (3, 3)))
        for number, one in enumerate(series):
            drawn = SERIES[number]
            axes.plot(
                levels, one.shares, color=drawn.colour, linestyle=drawn.dashes,
                marker=drawn.marker, markersize=5.0, label=one.name,
            )  # fmt: skip
        axes.set_xlim(0.0, 1.0)
        axes.set_ylim(0.0, 1.0)
        axes.set_xticks([0.25, 0.5, 0.75, 1.0])  # zero is that of the other axis
        axes.xaxis.set_major_formatter(FuncFormatter(lambda value, _: reader.percent(value)))
        percents(axes, reader)
        axes.set_xlabel(stated)
        head(axes, held)
        axes.legend(loc="upper left", fontsize=SMALL)

    return draw(key, paint, title=title, alt=alt, width=width, height=height)


def places_figure(
    key: str,
    series: Sequence[Places],
    reader: Reader,
    *,
    slices: str,
    title: str,
    alt: str,
    width: float = NARROW,
    height: float = 300.0,
) -> str:
    """Where observations fell in their forecasts, a panel a series; see `draw` for the rest.

    Parameters
    ----------
    series : sequence of Places
        One or two; flat columns are what forecasts that are neither too sure nor too unsure give.
    reader : Reader
    slices : str
        What the horizontal axis counts.

    Examples
    --------
    >>> svg = places_figure("pit", [Places("dates", [1.0, 2.0])], Reader(), slices="low to high",
    ...                     title="t", alt="a")
    >>> "dates" in svg and "low to high" in svg
    True
    """

    def paint(figure: Figure) -> None:
        panels = len(series)
        each = (height - 50.0) / panels
        for number, one in enumerate(series):
            bottom = 46.0 + (panels - 1 - number) * each
            axes = figure.add_axes(
                (46.0 / width, bottom / height, 1.0 - 70.0 / width, (each - 34.0) / height)
            )
            _columns(axes, one, SERIES[number].colour)
            head(axes, one.name)
            if number == panels - 1:
                axes.set_xlabel(slices)
            else:
                axes.set_xticklabels([])

    def _columns(axes: Axes, one: Places, colour: str) -> None:
        from matplotlib.ticker import FuncFormatter, MaxNLocator

        n = len(one.counts)
        axes.bar([(i + 0.5) / n for i in range(n)], one.counts, width=0.86 / n, color=colour)
        flat = sum(one.counts) / n
        axes.axhline(flat, color=ink("quiet"), linewidth=1.0, linestyle=(0, (3, 3)))
        axes.set_xlim(0.0, 1.0)
        axes.set_xticks([0.0, 0.5, 1.0])
        axes.xaxis.set_major_formatter(FuncFormatter(lambda value, _: reader.percent(value)))
        axes.yaxis.set_major_locator(MaxNLocator(nbins=3, integer=True))
        axes.yaxis.set_major_formatter(FuncFormatter(lambda value, _: reader.number(value, 0)))

    return draw(key, paint, title=title, alt=alt, width=width, height=height)
