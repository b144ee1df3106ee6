"""Residuals of one stratum of a trial: against the fitted values, and against normal scores."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from phenocast.report.figures.axes import head, plain_numbers
from phenocast.report.figures.canvas import NARROW, draw
from phenocast.report.figures.palette import SERIES, ink
from phenocast.report.reader import Reader

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

MOST_DIGITS = 4


@dataclass(frozen=True)
class Stratum:
    """Residuals of one stratum, in one order: ``strata`` of a trial document.

    ``fitted`` and ``residual`` are in the unit of the response; ``score`` and ``scaled`` are normal
    scores and residuals over their spread.
    """

    fitted: Sequence[float]
    residual: Sequence[float]
    score: Sequence[float]
    scaled: Sequence[float]


@dataclass(frozen=True)
class Labels:
    """What the axes count: residuals, fitted values, residuals over their spread, normal scores."""

    residual: str
    fitted: str
    scaled: str
    score: str


def residual_figure(
    key: str,
    stratum: Stratum,
    reader: Reader,
    *,
    labels: Labels,
    title: str,
    alt: str,
    width: float = NARROW,
    height: float = 420.0,
) -> str:
    """Both residual plots of a stratum, one above the other; see `draw` for the rest.

    Parameters
    ----------
    stratum : Stratum
        At least two residuals.
    reader : Reader
    labels : Labels

    Examples
    --------
    >>> one = Stratum([10.0, 12.0], [-1.0, 1.0], [-0.6, 0.6], [-1.0, 1.0])
    >>> svg = residual_figure("sub", one, Reader(), labels=Labels("g", "fitted", "scaled", "score"),
    ...                       title="t", alt="a")
    >>> "fitted" in svg and "score" in svg
    True
    """

    def paint(figure: Figure) -> None:
        each = (height - 96.0 - 68.0) / 2.0
        left, span = 56.0 / width, 1.0 - 70.0 / width
        top = figure.add_axes((left, (96.0 + 34.0 + each) / height, span, each / height))
        below = figure.add_axes((left, 48.0 / height, span, each / height))
        _points(top, stratum.fitted, stratum.residual)
        top.axhline(0.0, color=ink("quiet"), linewidth=1.0)
        head(top, labels.residual)
        top.set_xlabel(labels.fitted)
        _numbers(top, stratum.residual, reader)
        _points(below, stratum.score, stratum.scaled)
        reach = max(max(map(abs, stratum.score)), max(map(abs, stratum.scaled)))
        below.plot([-reach, reach], [-reach, reach], color=ink("quiet"), linewidth=1.0)
        head(below, labels.scaled)
        below.set_xlabel(labels.score)
        plain_numbers(below, reader, 1)

    return draw(key, paint, title=title, alt=alt, width=width, height=height)


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
