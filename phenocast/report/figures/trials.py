"""Figures of a trial: means with a standard error drawn to scale, and residuals of a stratum."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from phenocast.report.figures.axes import SMALL, head, plain_numbers
from phenocast.report.figures.canvas import NARROW, draw
from phenocast.report.figures.palette import SERIES, ink
from phenocast.report.reader import Reader

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

ROW, TOP, FOOT = 19.0, 34.0, 42.0
HEIGHT = 420.0
MOST_LETTERS = 20
MOST_DIGITS = 4


def means_figure(
    key: str,
    groups: Sequence[tuple[str, Sequence[tuple[str, float]]]],
    error: float,
    digits: int,
    reader: Reader,
    *,
    title: str,
    alt: str,
    response: str,
    scale: str,
) -> str:
    """Means of a trial as points in rows, as SVG; see `draw`.

    Parameters
    ----------
    groups : sequence of (str, sequence of (str, float))
        Levels of one factor, and within each the means of the other in the unit of the response.
    error : float
        Standard error of the difference of two means of a group, drawn to scale.
    digits : int
        Decimals of the numbers beside the points.
    reader : Reader
    response, scale : str
        What the axis counts, and the name of the bar.

    Examples
    --------
    >>> svg = means_figure("m", [("Marl", [("black", 4.0), ("silver", 5.5)])], 0.4, 1, Reader(),
    ...                    title="Means", alt="Two.", response="g", scale="SED")
    >>> "Marl" in svg and "5.5" in svg
    True
    """
    rows = sum(len(members) + 1 for _, members in groups)
    height = TOP + FOOT + ROW * rows

    def paint(figure: Figure) -> None:
        from matplotlib.ticker import MaxNLocator

        left = 132.0 / NARROW
        axes = figure.add_axes((left, FOOT / height, 1.0 - left - 0.1, ROW * rows / height))
        values = [mean for _, members in groups for _, mean in members]
        low, high = min(values), max(values)
        room = max(high - low, error, 1e-9)
        axes.set_xlim(low - 0.12 * room, high + 0.12 * room)
        axes.set_ylim(rows - 0.5, -0.5)
        axes.set_yticks([])
        axes.grid(visible=False)
        axes.spines["left"].set_visible(False)
        row, mark = 0, SERIES[0]
        for group, members in groups:
            _name(axes, group, row, bold=True)
            for name, mean in members:
                row += 1
                axes.axhline(row, color=ink("rule"), linewidth=0.7, zorder=0)
                axes.plot(mean, row, marker=mark.marker, markersize=6.5, color=mark.colour)
                _name(axes, name, row)
                axes.annotate(
                    reader.number(mean, digits), (1.0, row),
                    xycoords=("axes fraction", "data"), xytext=(4, 0), textcoords="offset points",
                    va="center", color=ink("ink"), fontsize=SMALL, annotation_clip=False,
                )  # fmt: skip
            row += 1
        axes.set_xlabel(response)
        axes.xaxis.set_major_locator(MaxNLocator(nbins=4, min_n_ticks=2))
        axes.xaxis.set_major_formatter(lambda value, _: reader.plain_value(round(float(value), 9)))
        bar = 1.0 + 10.0 / (ROW * rows)
        axes.plot(
            [low, low + error], [bar, bar], transform=axes.get_xaxis_transform(),
            color=ink("accent"), linewidth=4.0, clip_on=False, solid_capstyle="butt",
        )  # fmt: skip
        axes.annotate(
            scale, (low, bar), xycoords=("data", "axes fraction"), xytext=(0, 5),
            textcoords="offset points", va="bottom", color=ink("accent"), fontsize=SMALL,
            annotation_clip=False,
        )  # fmt: skip

    return draw(key, paint, title=title, alt=alt, height=height)


def _name(axes: Axes, text: str, row: int, *, bold: bool = False) -> None:
    """Name of a row at the left edge; a member stands further in than its group."""
    short = text if len(text) <= MOST_LETTERS else text[: MOST_LETTERS - 1] + "…"
    axes.annotate(
        short, (0.0, row), xycoords=("axes fraction", "data"), xytext=(-126 if bold else -114, 0),
        textcoords="offset points", va="center", annotation_clip=False, fontsize=SMALL,
        color=ink("ink"), fontweight="bold" if bold else "normal",
    )  # fmt: skip


def residual_figure(
    key: str,
    stratum: Mapping[str, Sequence[float]],
    reader: Reader,
    *,
    labels: Sequence[str],
    title: str,
    alt: str,
) -> str:
    """Residuals against fitted values and against normal scores, as SVG; see `draw`.

    Parameters
    ----------
    stratum : mapping
        A row of ``strata`` of a trial document, with at least two residuals.
    reader : Reader
    labels : four str
        What the axes count: residuals, fitted values, residuals over their spread, normal scores.

    Examples
    --------
    >>> one = {"fitted": [10.0, 12.0], "residual": [-1.0, 1.0], "normal_score": [-0.6, 0.6],
    ...        "scaled_residual": [-1.0, 1.0]}
    >>> svg = residual_figure("sub", one, Reader(), labels=["g", "fitted", "scaled", "score"],
    ...                       title="t", alt="a")
    >>> "fitted" in svg and "score" in svg
    True
    """

    def paint(figure: Figure) -> None:
        each = (HEIGHT - 96.0 - 68.0) / 2.0
        left, span = 56.0 / NARROW, 1.0 - 70.0 / NARROW
        top = figure.add_axes((left, (96.0 + 34.0 + each) / HEIGHT, span, each / HEIGHT))
        below = figure.add_axes((left, 48.0 / HEIGHT, span, each / HEIGHT))
        _points(top, stratum["fitted"], stratum["residual"])
        top.axhline(0.0, color=ink("quiet"), linewidth=1.0)
        head(top, labels[0])
        top.set_xlabel(labels[1])
        _numbers(top, stratum["residual"], reader)
        _points(below, stratum["normal_score"], stratum["scaled_residual"])
        reach = max(
            max(map(abs, stratum["normal_score"])), max(map(abs, stratum["scaled_residual"]))
        )
        below.plot([-reach, reach], [-reach, reach], color=ink("quiet"), linewidth=1.0)
        head(below, labels[2])
        below.set_xlabel(labels[3])
        plain_numbers(below, reader, 1)

    return draw(key, paint, title=title, alt=alt, height=HEIGHT)


def _points(axes: Axes, across: Sequence[float], up: Sequence[float]) -> None:
    series = SERIES[0]
    axes.plot(across, up, linestyle="", marker=series.marker, markersize=4.0, color=series.colour)
    axes.margins(x=0.05, y=0.08)


def _numbers(axes: Axes, values: Sequence[float], reader: Reader) -> None:
    """Decimals that the size of the residuals asks for."""
    largest = max(map(abs, values))
    digits = 0
    while largest * 10**digits < 5.0 and digits < MOST_DIGITS:
        digits += 1
    plain_numbers(axes, reader, digits)
