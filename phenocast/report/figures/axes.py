"""Axes that several figures share: months along the bottom, the day of issue, numbers in words."""

from __future__ import annotations

from datetime import date, timedelta
from typing import TYPE_CHECKING

from phenocast.report.figures.palette import ink
from phenocast.report.reader import Reader

if TYPE_CHECKING:
    from matplotlib.axes import Axes

MOST_MONTHS = 6
SMALL = 10.5
"""Letters of labels inside a panel."""


def month_axis(
    axes: Axes,
    first: date,
    last: date,
    reader: Reader,
    *,
    words: bool = True,
    most: int = MOST_MONTHS,
) -> None:
    """Let an axis run from a day to another with a mark at the beginning of each month.

    Parameters
    ----------
    axes : Axes
        Its horizontal values are days as ``date.toordinal``.
    first, last : date
    reader : Reader
    words : bool
        Write the months; otherwise only mark them, for a figure with another axis below.
    most : int
        Months that are written at most.
    """
    axes.set_xlim(first.toordinal(), last.toordinal())
    starts = _month_starts(first, last)
    for day in starts:
        axes.axvline(day.toordinal(), color=ink("rule"), linewidth=0.7, zorder=0)
    step = 1 + (len(starts) - 1) // most if starts else 1
    shown = starts[::step]
    axes.set_xticks([day.toordinal() for day in shown])
    if not words:
        axes.set_xticklabels([])
        return
    axes.set_xticklabels(
        [
            reader.short_month(day)
            + (f"\n{day.year}" if number == 0 or day.year != shown[number - 1].year else "\n")
            for number, day in enumerate(shown)
        ],
        ha="left",
    )


def _month_starts(first: date, last: date) -> list[date]:
    day = first.replace(day=1)
    found = []
    while day <= last:
        if day >= first:
            found.append(day)
        day = (day + timedelta(days=32)).replace(day=1)
    return found


def as_of_line(axes: Axes, issue_date: date, label: str = "") -> None:
    """Draw the day of issue: what is left of it was observed, what is right of it is forecast."""
    low, high = axes.get_xlim()
    place = issue_date.toordinal()
    if not low <= place <= high:
        return
    axes.axvline(place, color=ink("accent"), linewidth=1.4, linestyle=(0.0, (2.0, 2.0)), zorder=3)
    if label:
        right = place > low + 0.7 * (high - low)
        axes.annotate(
            label, (place, 1.0), xycoords=("data", "axes fraction"),
            xytext=(-4 if right else 4, -2), textcoords="offset points",
            ha="right" if right else "left", va="top", color=ink("accent"),
        )  # fmt: skip


def head(axes: Axes, words: str) -> None:
    """Write the head of a panel above it, from the left edge of the drawing.

    It says what the vertical axis counts, with its unit: upright text, which is easier to read than
    text on its side. Its place is stated, for finding one costs matplotlib a fifth of its time.
    """
    figure = axes.get_figure(root=True)
    assert figure is not None
    place = axes.get_position()
    axes.set_title(words, x=-(place.x0 - 4.0 / (72.0 * figure.get_figwidth())) / place.width, y=1.0)


def label(
    axes: Axes, words: str, at: tuple[float, float], *, below: bool = False, left: bool = False
) -> None:
    """Write the name of a line beside one of its points."""
    axes.annotate(
        words, at, xytext=(-5 if left else 5, -4 if below else 4), textcoords="offset points",
        ha="right" if left else "left", va="top" if below else "bottom", color=ink("ink"),
        fontsize=SMALL,
    )  # fmt: skip


def plain_numbers(axes: Axes, reader: Reader, digits: int = 0) -> None:
    """Write the numbers of the vertical axis as the language does."""
    from matplotlib.ticker import FuncFormatter, MaxNLocator

    axes.yaxis.set_major_locator(MaxNLocator(nbins=5, min_n_ticks=3, integer=digits == 0))
    axes.yaxis.set_major_formatter(FuncFormatter(lambda value, _: reader.number(value, digits)))


def percents(axes: Axes, reader: Reader) -> None:
    """Write the shares of the vertical axis as percent; nothing finer than one in a hundred."""
    from matplotlib.ticker import FuncFormatter, MaxNLocator

    axes.yaxis.set_major_locator(MaxNLocator(nbins=4, min_n_ticks=3, steps=[1, 2, 2.5, 5, 10]))
    axes.yaxis.set_major_formatter(FuncFormatter(lambda value, _: reader.percent(value)))
