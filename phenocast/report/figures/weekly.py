"""Figures of weeks on a calendar: fan, season of a block, people against need, hours of heat."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, timedelta
from typing import TYPE_CHECKING

import numpy as np

from phenocast.report.figures.canvas import (
    NARROW,
    SERIES,
    SMALL,
    as_of_line,
    draw,
    head,
    ink,
    label,
    month_axis,
    percents,
    plain_numbers,
)
from phenocast.report.reader import Document, Reader, week_days

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

LEVELS = ("p10", "p50", "p90")
NEED_HEIGHT, HOURS_HEIGHT, SEASON_HEIGHT = 420.0, 320.0, 600.0
_TOPS = (22.0, 182.0, 316.0, 450.0)
_BOTTOMS = (148.0, 282.0, 416.0, 556.0)
_LEFT, _RIGHT = 52.0, 12.0


def _middles(weeks: Sequence[str]) -> list[float]:
    """Middle of each ISO week as a place on the calendar."""
    return [week_days(week)[0].toordinal() + 3.5 for week in weeks]


def fan_figure(
    key: str,
    weeks: Sequence[str],
    quantiles: Sequence[Mapping[str, float]],
    reader: Reader,
    *,
    unit: str,
    title: str,
    alt: str,
    issue_date: date,
    digits: int = 0,
    first: date | None = None,
    height: float = 270.0,
    picked: Mapping[str, float] | None = None,
) -> str:
    """Weekly fan as SVG: the median as a line, the 80 % interval as a band; see `draw`.

    Parameters
    ----------
    weeks : sequence of str
        ISO weeks in order, at least one.
    quantiles : sequence of mapping
        P10, P50 and P90 of each week, in the unit of the page.
    reader : Reader
    unit : str
        What the vertical axis counts, with its unit.
    issue_date : date
        Drawn where it lies inside the weeks shown.
    digits : int
        Decimals on the vertical axis.
    first : date, optional
        Where the axis begins, if before the first week.
    picked : mapping of str to float, optional
        What was picked in past weeks, in the unit of the page.

    Examples
    --------
    >>> trays = [{"p10": 0.0, "p50": 1.0, "p90": 2.0}, {"p10": 1.0, "p50": 3.0, "p90": 6.0}]
    >>> svg = fan_figure("trays", ["2026-W45", "2026-W46"], trays, Reader(), unit="trays a week",
    ...                  title="Trays", alt="Two weeks.", issue_date=date(2026, 11, 1))
    >>> "trays a week" in svg
    True
    """
    bands = {level: [one[level] for one in quantiles] for level in LEVELS}

    def paint(figure: Figure) -> None:
        axes = figure.add_axes(
            (62.0 / NARROW, 48.0 / height, 1.0 - 74.0 / NARROW, 1.0 - 82.0 / height)
        )
        facts = picked or {}
        begin = week_days(min([weeks[0], *facts]))[0]
        month_axis(axes, min(first or begin, begin), week_days(weeks[-1])[1], reader)
        middles, series = _middles(weeks), SERIES[0]
        axes.fill_between(
            middles, bands["p10"], bands["p90"], color=series.colour, alpha=0.22, linewidth=0.0
        )
        axes.plot(middles, bands["p50"], color=series.colour, marker=series.marker, markersize=3.0)
        axes.plot(_middles(list(facts)), list(facts.values()), color=ink("ink"), linestyle="",
                  marker="X", markersize=5.0, zorder=3)  # fmt: skip
        axes.set_ylim(0.0, max(1e-9, *bands["p90"], *facts.values()) * 1.12)
        plain_numbers(axes, reader, digits)
        head(axes, unit)
        words = reader.say("common.as_of_label", date=reader.day(issue_date))
        as_of_line(axes, issue_date, words)
        peak = int(np.argmax(bands["p90"]))
        late = peak > 0.5 * len(weeks)
        for name, level in (("high", "p90"), ("middle", "p50"), ("low", "p10")):
            at = (middles[peak], bands[level][peak])
            label(axes, reader.say(f"common.{name}"), at, below=name == "low", left=late)

    return draw(key, paint, title=title, alt=alt, height=height)


def need_figure(
    key: str, weeks: Sequence[Document], reader: Reader, *, title: str, alt: str, issue_date: date
) -> str:
    """People needed against people planned, and the risk below; see `draw`.

    Parameters
    ----------
    weeks : sequence of mapping
        ``weeks`` of a labour document.
    reader : Reader
    issue_date : date

    Examples
    --------
    >>> week = {"week": "2026-W45", "need_people": {"p50": 3.0, "p90": 5.0}, "planned": 4,
    ...         "short_of_core_probability": 0.2, "short_of_all_probability": 0.0}
    >>> svg = need_figure("crew", [week], Reader(), title="Crew", alt="One week.",
    ...                   issue_date=date(2026, 10, 31))
    >>> "Core crew" in svg
    True
    """
    labels = [row["week"] for row in weeks]
    need = {level: [row["need_people"][level] for row in weeks] for level in ("p50", "p90")}
    planned = [row["planned"] for row in weeks]

    def paint(figure: Figure) -> None:
        say = reader.say
        need_line, plan_line = SERIES[:2]
        left, width = 44.0 / NARROW, 1.0 - 56.0 / NARROW
        people = figure.add_axes((left, 178.0 / NEED_HEIGHT, width, 194.0 / NEED_HEIGHT))
        risk = figure.add_axes((left, 44.0 / NEED_HEIGHT, width, 84.0 / NEED_HEIGHT))
        begin = min(week_days(labels[0])[0], issue_date - timedelta(days=3))
        middles = np.array(_middles(labels))
        for axes in (people, risk):
            month_axis(axes, begin, week_days(labels[-1])[1], reader, words=axes is risk)
            as_of_line(axes, issue_date)
        people.fill_between(
            middles, need["p50"], need["p90"], color=need_line.colour, alpha=0.22, linewidth=0.0,
            label=say("common.high"),
        )  # fmt: skip
        people.plot(
            middles, need["p50"], color=need_line.colour, marker=need_line.marker,
            markersize=2.5, label=say("common.middle"),
        )  # fmt: skip
        people.stairs(
            planned, np.append(middles, middles[-1] + 7.0) - 3.5, color=plan_line.colour,
            linestyle=plan_line.dashes, linewidth=2.2, label=say("labour.figure.core"),
        )  # fmt: skip
        people.set_ylim(0.0, 1.15 * max(1.0, *need["p90"], *planned))
        plain_numbers(people, reader)
        head(people, say("labour.figure.people"))
        people.legend(
            loc="lower right", bbox_to_anchor=(1.0, 1.08), ncols=3, borderaxespad=0.0,
            columnspacing=1.2, handlelength=1.6, handletextpad=0.5, fontsize=SMALL,
        )  # fmt: skip
        core, every = ([row[f"short_of_{who}_probability"] for row in weeks]
                       for who in ("core", "all"))  # fmt: skip
        risk.bar(middles, core, width=5.6, color=need_line.colour, alpha=0.35)
        risk.bar(middles, every, width=5.6, color=plan_line.colour)
        risk.set_ylim(0.0, 1.0)
        percents(risk, reader)
        head(risk, say("labour.figure.risk"))

    return draw(key, paint, title=title, alt=alt, height=NEED_HEIGHT)


def heat_hours_figure(
    key: str, weeks: Sequence[Document], reader: Reader, *, title: str, alt: str
) -> str:
    """Hours above the heat limit: of a new crew above those of an acclimatised one; see `draw`.

    A full bar is the median week and a pale one above it is passed in one season of ten.

    Parameters
    ----------
    weeks : sequence of mapping
        ``weeks`` of ``heat`` of a labour document.
    reader : Reader

    Examples
    --------
    >>> week = {"week": "2027-W20", "hours_above_limit_new_crew": {"p50": 3.0, "p90": 8.0},
    ...         "hours_above_limit_acclimatised": {"p50": 0.0, "p90": 1.0}}
    >>> "New crew" in heat_hours_figure("heat", [week], Reader(), title="Heat", alt="One week.")
    True
    """
    labels = [row["week"] for row in weeks]
    crews = ("new_crew", "acclimatised")
    hours = {crew: [row[f"hours_above_limit_{crew}"] for row in weeks] for crew in crews}
    most = max(1.0, *(one["p90"] for crew in crews for one in hours[crew]))

    def paint(figure: Figure) -> None:
        left, width = 44.0 / NARROW, 1.0 - 56.0 / NARROW
        begin, end = week_days(labels[0])[0], week_days(labels[-1])[1]
        for crew, words, bottom, series in (
            ("new_crew", "labour.figure.new", 192.0, SERIES[1]),
            ("acclimatised", "labour.figure.used", 44.0, SERIES[0]),
        ):
            axes = figure.add_axes((left, bottom / HOURS_HEIGHT, width, 100.0 / HOURS_HEIGHT))
            month_axis(axes, begin, end, reader, words=crew == "acclimatised")
            for level, alpha in (("p90", 0.35), ("p50", 1.0)):
                values = [one[level] for one in hours[crew]]
                axes.bar(_middles(labels), values, width=5.6, color=series.colour, alpha=alpha)
            axes.axhline(0.0, color=ink("quiet"), linewidth=0.8)
            axes.set_ylim(0.0, 1.1 * most)
            plain_numbers(axes, reader)
            head(axes, reader.say(words))

    return draw(key, paint, title=title, alt=alt, height=HOURS_HEIGHT)


def shown_weeks(block: Document) -> tuple[date, date]:
    """First and last day of the calendar: to two weeks behind the last week of a first pick.

    Examples
    --------
    >>> pick = {"week_probabilities": [{"week": "2026-W48", "probability": 1.0}]}
    >>> shown_weeks({"planting_date": "2026-09-25", "last_day": "2027-07-21", "first_pick": pick})
    (datetime.date(2026, 9, 21), datetime.date(2026, 12, 13))
    """
    planting, last_day = (date.fromisoformat(block[key]) for key in ("planting_date", "last_day"))
    first = planting - timedelta(days=planting.weekday())
    picked = picked_weeks(block)
    if not picked:
        return first, last_day
    return first, min(last_day, week_days(picked[-1]["week"])[1] + timedelta(days=14))


def picked_weeks(block: Document) -> list[Document]:
    """Weeks into which the first pick of a block may fall, with their probability."""
    weeks = block["first_pick"]["week_probabilities"]
    return [row for row in weeks if row["probability"] > 0.0]


def timeline_figure(
    key: str,
    block: Document,
    cut_off_c: float,
    reader: Reader,
    *,
    title: str,
    alt: str,
    issue_date: date,
) -> str:
    """Season of a block as SVG: crown, heat, stages and first pick on one calendar; see `draw`.

    Parameters
    ----------
    block : mapping
        One of ``blocks`` of a forecast document.
    cut_off_c : float
        Crown temperature above which heat counts. [degC]
    reader : Reader
    issue_date : date
    """
    first, last = shown_weeks(block)
    rows = [row for row in block["week_by_week"] if week_days(row["week"])[1] <= last]
    places = _middles([row["week"] for row in rows])

    def band(name: str, kind: str) -> list[list[float]]:
        return [[reader.value(kind, row[name][level]) for row in rows] for level in LEVELS]

    def paint(figure: Figure) -> None:
        panels = [
            figure.add_axes(
                (_LEFT / NARROW, 1.0 - bottom / SEASON_HEIGHT, 1.0 - (_LEFT + _RIGHT) / NARROW,
                 (bottom - top) / SEASON_HEIGHT)
            )
            for top, bottom in zip(_TOPS, _BOTTOMS, strict=True)
        ]  # fmt: skip
        for axes in panels:
            month_axis(axes, first, last, reader, words=axes is panels[-1])
        degrees = (band("crown_max_c", "temperature"), band("crown_mean_c", "temperature"))
        _crown(panels[0], places, *degrees, reader.value("temperature", cut_off_c), reader)
        low, middle, high = band("degree_hours_above_30c", "heat")
        panels[1].bar(places, middle, width=5.0, color=SERIES[1].colour, alpha=0.75)
        panels[1].vlines(places, low, high, color=ink("ink"), linewidth=1.2)
        panels[1].set_ylim(0.0, max(1.0, *high) * 1.15)
        plain_numbers(panels[1], reader)
        head(panels[1], reader.say("forecast.figure.heat", unit=reader.unit("heat")))
        _stages(panels[2], rows, reader)
        _first_pick(panels[3], picked_weeks(block), reader)
        words = reader.say("common.as_of_label", date=reader.day(issue_date))
        for axes in panels:
            as_of_line(axes, issue_date, words if axes is panels[0] else "")

    return draw(key, paint, title=title, alt=alt, height=SEASON_HEIGHT)


def _crown(
    axes: Axes,
    places: Sequence[float],
    highest: Sequence[Sequence[float]],
    mean: Sequence[Sequence[float]],
    cut_off: float,
    reader: Reader,
) -> None:
    """Highest and mean crown temperature of each week against the cut-off."""
    for series, (low, middle, high) in ((SERIES[1], highest), (SERIES[0], mean)):
        axes.fill_between(places, low, high, color=series.colour, alpha=0.18, linewidth=0.0)
        axes.plot(places, middle, color=series.colour, linestyle=series.dashes,
                  marker=series.marker, markersize=3.5)  # fmt: skip
    upper, lower = highest[2], mean[0]
    peak, third = int(np.argmax(upper)), len(lower) // 3
    left = peak > 0.7 * len(upper)
    label(axes, reader.say("forecast.figure.highest"), (places[peak], upper[peak]), left=left)
    label(axes, reader.say("forecast.figure.mean"), (places[third], lower[third]), below=True)
    axes.axhline(cut_off, color=ink("ink"), linewidth=1.6)
    bottom, top = min(*lower, cut_off), max(*upper, cut_off)
    axes.set_ylim(bottom - 0.14 * (top - bottom), top + 0.22 * (top - bottom))
    cut = reader.say("forecast.figure.cut_off", degrees=reader.number(cut_off))
    axes.annotate(cut, (axes.get_xlim()[1], cut_off), xytext=(-2, 2), ha="right",
                  textcoords="offset points", va="bottom", color=ink("ink"))  # fmt: skip
    plain_numbers(axes, reader)
    head(axes, reader.say("forecast.figure.crown", unit=reader.unit("temperature")))


def _stages(axes: Axes, rows: Sequence[Document], reader: Reader) -> None:
    """Share of the weather years and draws that have reached each stage by the end of a week."""
    ends = [week_days(row["week"])[1].toordinal() for row in rows]
    stages = ("flower_initiation", "anthesis", "first_pick")
    for series, stage, height in zip(SERIES, stages, (0.84, 0.56, 0.28), strict=False):
        shares = [row["reached"][stage] for row in rows]
        axes.plot(ends, shares, color=series.colour, linestyle=series.dashes,
                  marker=series.marker, markersize=4.5)  # fmt: skip
        later = (place for place, share in enumerate(shares) if share >= height)
        crossing = next(later, len(shares) - 1)
        left = crossing > 0.75 * len(shares)
        name = reader.say(f"forecast.stage.{stage}")
        label(axes, name, (ends[crossing], shares[crossing]), below=True, left=left)
    axes.set_ylim(0.0, 1.05)
    axes.set_yticks([0.0, 0.5, 1.0], [reader.percent(share) for share in (0.0, 0.5, 1.0)])
    head(axes, reader.say("forecast.figure.stages"))


def _first_pick(axes: Axes, picked: Sequence[Document], reader: Reader) -> None:
    """Probability that the first pick falls into each week."""
    places = _middles([row["week"] for row in picked])
    chances = [row["probability"] for row in picked]
    axes.bar(places, chances, width=5.6, color=SERIES[0].colour)
    axes.set_ylim(0.0, max([0.05, *chances]) * 1.25)
    for place, chance in zip(places, chances, strict=True):
        if chance > 0.02:
            axes.annotate(reader.percent(chance), (place, chance), xytext=(0, 2),
                          textcoords="offset points", ha="center", va="bottom", color=ink("ink"),
                          fontsize=SMALL)  # fmt: skip
    percents(axes, reader)
    head(axes, reader.say("forecast.figure.first_pick"))
