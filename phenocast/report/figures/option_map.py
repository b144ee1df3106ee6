"""A map of options: planting dates across, films down, shade and number for what each is worth."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from phenocast.report.columns import plain
from phenocast.report.figures.axes import SMALL
from phenocast.report.figures.canvas import NARROW, WIDE, draw
from phenocast.report.figures.palette import ink

if TYPE_CHECKING:
    from collections.abc import Callable

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
        axes.set_xlim(0.0, columns)
        axes.set_ylim(len(options.films), 0.0)
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
