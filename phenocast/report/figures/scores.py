"""Figures of estimates and scores: reliability, PIT, errors by hour, means and residuals."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from phenocast.report.columns import plain
from phenocast.report.figures.canvas import (
    NARROW,
    SERIES,
    SMALL,
    draw,
    head,
    ink,
    label,
    percents,
    plain_numbers,
)
from phenocast.report.reader import Reader

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


HELD_HEIGHT, HOURS_HEIGHT = 300.0, 340.0
ROW = 26.0
MARGIN_TOP, MARGIN_BOTTOM, MARGIN_LEFT = 34.0, 34.0, 118.0
NAME_PLACES = 16


def reliability_figure(
    key: str,
    levels: Sequence[float],
    series: Sequence[tuple[str, Sequence[float]]],
    reader: Reader,
    *,
    stated: str,
    held: str,
    title: str,
    alt: str,
) -> str:
    """Share of intervals that held against the share stated, as SVG; see `draw` for the rest.

    Parameters
    ----------
    levels : sequence of float
        Stated shares, 0 to 1, rising.
    series : sequence of (str, sequence of float)
        One to four, each with the share of intervals of each level that held.
    reader : Reader
    stated, held : str
        What the axes count.

    Examples
    --------
    >>> svg = reliability_figure("rel", [0.5, 0.8], [("dates", [0.4, 0.9])], Reader(),
    ...                          stated="stated", held="held", title="t", alt="a")
    >>> "dates" in svg and "stated" in svg
    True
    """

    def paint(figure: Figure) -> None:
        from matplotlib.ticker import FuncFormatter

        axes = figure.add_axes(
            (52.0 / NARROW, 46.0 / HELD_HEIGHT, 1.0 - 76.0 / NARROW, 1.0 - 80.0 / HELD_HEIGHT)
        )
        axes.plot([0.0, 1.0], [0.0, 1.0], color=ink("quiet"), linewidth=1.0, linestyle=(0, (3, 3)))
        for number, (name, shares) in enumerate(series):
            drawn = SERIES[number]
            axes.plot(
                levels, shares, color=drawn.colour, linestyle=drawn.dashes,
                marker=drawn.marker, markersize=5.0, label=name,
            )  # fmt: skip
        # Zero is that of the other axis.
        axes.set(xlim=(0.0, 1.0), ylim=(0.0, 1.0), xticks=[0.25, 0.5, 0.75, 1.0], xlabel=stated)
        axes.xaxis.set_major_formatter(FuncFormatter(lambda value, _: reader.percent(value)))
        percents(axes, reader)
        head(axes, held)
        axes.legend(loc="upper left", fontsize=SMALL)

    return draw(key, paint, title=title, alt=alt, height=HELD_HEIGHT)


def places_figure(
    key: str,
    series: Sequence[tuple[str, Sequence[float]]],
    reader: Reader,
    *,
    slices: str,
    title: str,
    alt: str,
) -> str:
    """Where observations fell in their forecasts, a panel a series; see `draw` for the rest.

    Parameters
    ----------
    series : sequence of (str, sequence of float)
        One or two, each with how many observations fell into each equal slice of probability; flat
        columns are what forecasts that are neither too sure nor too unsure give.
    reader : Reader
    slices : str
        What the horizontal axis counts.

    Examples
    --------
    >>> svg = places_figure("pit", [("dates", [1.0, 2.0])], Reader(), slices="low to high",
    ...                     title="t", alt="a")
    >>> "dates" in svg and "low to high" in svg
    True
    """

    def paint(figure: Figure) -> None:
        panels = len(series)
        each = (HELD_HEIGHT - 50.0) / panels
        for number, (name, counts) in enumerate(series):
            bottom = 46.0 + (panels - 1 - number) * each
            axes = figure.add_axes(
                (
                    46.0 / NARROW,
                    bottom / HELD_HEIGHT,
                    1.0 - 70.0 / NARROW,
                    (each - 34.0) / HELD_HEIGHT,
                )
            )
            _columns(axes, counts, SERIES[number].colour)
            head(axes, name)
            if number == panels - 1:
                axes.set_xlabel(slices)
            else:
                axes.set_xticklabels([])

    def _columns(axes: Axes, counts: Sequence[float], colour: str) -> None:
        from matplotlib.ticker import FuncFormatter, MaxNLocator

        n = len(counts)
        axes.bar([(i + 0.5) / n for i in range(n)], counts, width=0.86 / n, color=colour)
        flat = sum(counts) / n
        axes.axhline(flat, color=ink("quiet"), linewidth=1.0, linestyle=(0, (3, 3)))
        axes.set(xlim=(0.0, 1.0), xticks=[0.0, 0.5, 1.0])
        axes.xaxis.set_major_formatter(FuncFormatter(lambda value, _: reader.percent(value)))
        axes.yaxis.set_major_locator(MaxNLocator(nbins=3, integer=True))
        axes.yaxis.set_major_formatter(FuncFormatter(lambda value, _: reader.number(value, 0)))

    return draw(key, paint, title=title, alt=alt, height=HELD_HEIGHT)


def sensor_hours_figure(
    key: str,
    hours: Sequence[int],
    panels: Sequence[tuple[str, Sequence[float], Sequence[float]]],
    reader: Reader,
    *,
    labels: Sequence[str],
    title: str,
    alt: str,
) -> str:
    """Errors of a sensor by hour of the day, prior and posterior, as SVG; see `draw`.

    Parameters
    ----------
    hours : sequence of int
        Hours of local standard time.
    panels : two of (str, sequence of float, sequence of float)
        RMSE above and bias (predicted less measured) below: what the panel counts with its unit,
        and the prior and the posterior value of each hour.
    reader : Reader
    labels : three str
        Name of the bottom axis, of the prior line and of the posterior line.

    Examples
    --------
    >>> panels = [("RMSE", [1.0, 2.0], [0.5, 0.6]), ("bias", [0.2, 1.0], [0.0, 0.1])]
    >>> svg = sensor_hours_figure("film", [0, 12], panels, Reader(), title="t", alt="a",
    ...                           labels=["hour", "prior", "posterior"])
    >>> "prior" in svg and "RMSE" in svg
    True
    """

    def paint(figure: Figure) -> None:
        each = (HOURS_HEIGHT - 128.0) / 2.0
        left, span = 48.0 / NARROW, 1.0 - 66.0 / NARROW
        bottoms = (48.0 + each + 48.0, 48.0)
        top, below = (
            figure.add_axes((left, bottom / HOURS_HEIGHT, span, each / HOURS_HEIGHT))
            for bottom in bottoms
        )
        for axes, (words, *lines) in zip((top, below), panels, strict=True):
            for series, values in zip((SERIES[1], SERIES[0]), lines, strict=True):
                axes.plot(hours, values, color=series.colour, linestyle=series.dashes,
                          marker=series.marker, markersize=3.0, linewidth=1.5)  # fmt: skip
            axes.set(xlim=(-0.5, 23.5), xticks=[0, 6, 12, 18, 23])
            axes.margins(y=0.22)
            head(axes, words)
            plain_numbers(axes, reader, 2 if max(map(max, lines)) < 1.0 else 1)
        top.set_ylim(bottom=0.0)
        below.axhline(0.0, color=ink("quiet"), linewidth=1.0, zorder=1)
        below.set_xlabel(labels[0])
        _, prior, posterior = panels[0]
        # where the lines lie farthest apart, one name above and the other below
        at = max(range(len(prior)), key=lambda place: abs(prior[place] - posterior[place]))
        hour, up = hours[at], prior[at] >= posterior[at]
        label(top, labels[1], (hour, prior[at]), below=not up, left=hour > 16)
        label(top, labels[2], (hour, posterior[at]), below=up, left=hour > 16)

    return draw(key, paint, title=title, alt=alt, height=HOURS_HEIGHT)


@dataclass(frozen=True)
class Estimate:
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
    rows: Sequence[Estimate],
    reader: Reader,
    *,
    unit: str,
    digits: int,
    title: str,
    alt: str,
) -> str:
    """Caterpillar plot as SVG; see `draw` for ``key``, ``title`` and ``alt``.

    Parameters
    ----------
    rows : sequence of Estimate
        The best first, at least one.
    reader : Reader
    unit : str
        What the horizontal axis counts, with its unit.
    digits : int
        Decimals on it.

    Examples
    --------
    >>> rows = [Estimate("Gneiss", 5.0, (4.0, 6.0), (3.0, 7.0), True)]
    >>> svg = caterpillar_figure("ranks", rows, Reader(), unit="% lost", digits=0, title="Ranks",
    ...                          alt="Gneiss 5 %.")
    >>> "Gneiss" in svg, "% lost" in svg
    (True, True)
    """
    height = MARGIN_TOP + MARGIN_BOTTOM + ROW * len(rows)

    def paint(figure: Figure) -> None:
        from matplotlib.ticker import FuncFormatter, MaxNLocator

        axes = figure.add_axes(
            (MARGIN_LEFT / NARROW, MARGIN_BOTTOM / height, 1.0 - (MARGIN_LEFT + 14.0) / NARROW,
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
        axes.set_yticks(range(len(rows)), [plain(row.name, NAME_PLACES) for row in rows])
        axes.tick_params(axis="y", labelcolor=ink("ink"), labelsize=SMALL)
        axes.xaxis.set_major_locator(MaxNLocator(nbins=6))
        axes.xaxis.set_major_formatter(FuncFormatter(lambda value, _: reader.number(value, digits)))
        head(axes, unit)

    return draw(key, paint, title=title, alt=alt, height=height)


TRIAL_ROW, TOP, FOOT = 19.0, 34.0, 42.0
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
    height = TOP + FOOT + TRIAL_ROW * rows

    def paint(figure: Figure) -> None:
        from matplotlib.ticker import MaxNLocator

        left = 132.0 / NARROW
        axes = figure.add_axes((left, FOOT / height, 1.0 - left - 0.1, TRIAL_ROW * rows / height))
        values = [mean for _, members in groups for _, mean in members]
        low, high = min(values), max(values)
        room = max(high - low, error, 1e-9)
        across = (low - 0.12 * room, high + 0.12 * room)
        axes.set(xlim=across, ylim=(rows - 0.5, -0.5), yticks=[])
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
        bar = 1.0 + 10.0 / (TRIAL_ROW * rows)
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
