"""Hindcasts and their scores as a page of plain text, made of their document alone."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from phenocast.report.columns import aligned, look_first, plain, wrapped

Document = Mapping[str, Any]

MOST_ROWS = 20


def hindcast_text(document: Document) -> str:
    """Page of hindcasts: how far first picks and weekly fruit were off, against the calendar.

    Parameters
    ----------
    document : mapping
        A hindcast document of schema version 1.

    Returns
    -------
    str
        Ends with a newline.
    """
    seasons = document["seasons"]
    ended = document["past_years"] == "earlier"
    years = "past years that had ended" if ended else "all other years"
    lines = wrapped(
        f"Forecasts of {document['block_seasons']} past block-seasons ({', '.join(seasons)}) as "
        f"they would have been made, against {document['file']} ({document['records']} records); "
        f"{years} stand for the weather to come; {document['draws']} draws",
        indent="",
    )
    lines += ["", *look_first(document["warnings"])][:-1]
    for lead in document["leads"]:
        lines += ["", *_lead(lead)]
    lines += ["", *_blocks(document)]
    if document["not_made"]:
        lines += ["", "Not made"]
        for one in document["not_made"]:
            lines += wrapped(
                f"{one['season']}: {one['block']}, {one['lead_d']} d after planting: "
                f"{one['reason']}",
                bullet="- ",
            )
    if document["records_not_used"]:
        lines += ["", "Records that were not used"]
        for one in document["records_not_used"]:
            lines += wrapped(f"{one['season']}: {one['block']}: {one['reason']}", bullet="- ")
    if document["warnings"]:
        lines += ["", "Cautions"]
        for text in document["warnings"]:
            lines += wrapped(text, bullet="- ")
    return "\n".join(lines) + "\n"


def made_when(lead_d: int) -> str:
    """When a forecast was made.

    Parameters
    ----------
    lead_d : days after planting.

    Examples
    --------
    >>> made_when(0), made_when(30)
    ('at planting', '30 days after planting')
    """
    return "at planting" if lead_d == 0 else f"{lead_d} days after planting"


def _lead(lead: Document) -> list[str]:
    lines = [f"Made {made_when(lead['lead_d'])}"]
    dates, weekly = lead["first_pick"], lead["weekly"]
    if dates["scored"]:
        low, high = dates["coverage_80_of_seasons"]
        lines += wrapped(
            f"First pick, {dates['scored']} block-seasons of {dates['seasons']} season(s): off by "
            f"{dates['mae_d']:.1f} d on average, bias {dates['bias_d']:+.1f} d, root mean square "
            f"{dates['rmse_d']:.1f} d; {100 * dates['within_a_week']:.0f} % within a week. Visits "
            f"alone leave {dates['visit_floor_d']:.1f} d."
        )
        lines += wrapped(
            f"The 80 % interval held {100 * dates['coverage_80']:.0f} % (as few seasons as these "
            f"allow {100 * low:.0f} to {100 * high:.0f} %); it was {_days(dates['width_80_d'])} "
            f"wide. CRPS {dates['crps_d']:.1f} d."
        )
        lines += wrapped(_calendar(dates))
        warmth = dates["air_warmth"]
        if warmth["compared"]:
            told = "" if warmth["skill"] is None else f" (skill {warmth['skill']:+.2f} by CRPS)"
            lines += wrapped(
                "A plain sum of air warmth, with no film and no upper limit, learnt from the other "
                f"seasons: off by {warmth['mae_d']:.1f} d{told}."
            )
    else:
        lines += wrapped("No first pick was reached in the records, so none is scored.")
    if dates.get("never_reached"):
        lines += wrapped(f"{dates['never_reached']} block-season(s) never reached first pick.")
    if "wape" in weekly:
        against = weekly["calendar"]
        compared = (
            f"; the calendar {100 * against['wape']:.0f} % where the forecast has "
            f"{100 * against['forecast_wape']:.0f} % ({against['compared']} weeks)"
            if against["wape"] is not None
            else "; no other season has the same weeks"
        )
        lines += wrapped(
            f"Weekly fruit, {weekly['weeks']} weeks with visits: error {100 * weekly['wape']:.0f} "
            f"% of what was picked{compared}; all weeks together {100 * weekly['bias_share']:+.0f} "
            f"%. The 80 % interval held {100 * weekly['coverage_80']:.0f} % of the weeks."
        )
    return lines


def _calendar(dates: Document) -> str:
    calendar, days = dates["calendar"], dates["days_from_planting"]
    if not calendar["compared"]:
        return "No other season has the cultivar, so there is no calendar to compare with."
    skill = calendar["skill"]
    told = "" if skill is None else f" (skill {skill:+.2f} by CRPS)"
    return (
        f"Against the other seasons, {calendar['compared']} block-seasons: their mean date is off "
        f"by {calendar['mae_d']:.1f} d and their mean days from planting by {days['mae_d']:.1f} d, "
        f"the forecast by {calendar['forecast_mae_d']:.1f} d{told}."
    )


def _days(value: float | None) -> str:
    return "without end" if value is None else f"{value:.0f} d"


def _blocks(document: Document) -> list[str]:
    scored = [one for one in document["blocks"] if one["first_pick"]["error_d"] is not None]
    shown = sorted(scored, key=lambda one: -abs(one["first_pick"]["error_d"]))[:MOST_ROWS]
    rows = []
    for one in shown:
        pick = one["first_pick"]
        calendar = pick["calendar_error_d"]
        rows.append(
            [
                one["season"],
                one["block"],
                one["lead_d"],
                pick["median"] or "never",
                f"{_short(pick['p10'])} to {_short(pick['p90'])}",
                pick["seen_by"],
                f"{pick['error_d']:+.1f}",
                "-" if calendar is None else f"{calendar:+.1f}",
            ]
        )
    header = ["season", "block", "lead d", "median", "80 %", "seen by", "off d", "calendar"]
    more = len(scored) - len(shown)
    title = "First picks, furthest off first" + (
        f" ({len(shown)} of {len(scored)}; all stand in the JSON document)" if more else ""
    )
    return [
        plain(title),
        *aligned(rows, header, "<<><<<>>", widest=[14, 22, 6, 10, 14, 10, 6, 8], gap=" "),
    ]


def _short(day: str | None) -> str:
    return "never" if day is None else day[5:]
