"""A labour plan as one document of plain values, with the frost of its blocks beside it."""

from collections.abc import Sequence
from dataclasses import asdict
from datetime import datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np

from phenocast import __version__
from phenocast._typing import FloatArray
from phenocast.errors import cautions_first
from phenocast.forecast.advice import CREWS_AND_HEAT
from phenocast.forecast.result import SeasonForecast, assumed_numbers, assumed_of
from phenocast.harvest.weeks import monday
from phenocast.parameters import labour as shipped_labour
from phenocast.planning.labour.crew_weeks import CrewWeek, HeatWeek
from phenocast.planning.labour.heat_stress import CAUTIONS
from phenocast.planning.labour.heat_weeks import Start
from phenocast.planning.labour.plan import LabourPlan
from phenocast.planning.labour.solve import Checked, CrewPlan
from phenocast.planning.picking import TallyFit


def labour_frost(forecast: SeasonForecast, plan: LabourPlan) -> dict[str, Any]:
    """Return what a labour plan tells of frost.

    Parameters
    ----------
    forecast : SeasonForecast
    plan : LabourPlan
        Made without protection where a block states none.

    Returns
    -------
    dict
        ``blocks``, each with its ``frost`` as in the forecast; and
        ``with_protection``, the trays of each week of the plan where blocks that state no
        protection lose nothing to frost, or None where all state theirs.
    """
    beside = forecast.with_protection
    told: dict[str, Any] = {
        "blocks": [
            {"block": block.setup.block.name, "frost": block.frost_part(forecast.packout)}
            for block in forecast.blocks
        ],
        "with_protection": None,
    }
    if beside is not None:
        labels, total = beside.total_trays()
        places = [labels.index(week) for week in plan.weeks]
        trays = np.quantile(total[..., places], [0.1, 0.5, 0.9], axis=(0, 1))
        told["with_protection"] = {
            "weekly": [
                {"week": week, "trays": dict(zip(("p10", "p50", "p90"), row, strict=True))}
                for week, row in zip(plan.weeks, trays.T.round().tolist(), strict=True)
            ]
        }
    return told


SCHEMA_VERSION = 1
MOST_NAMES = 6


def labour_document(
    forecast: SeasonForecast, plan: LabourPlan, tallies: TallyFit | None = None
) -> dict[str, Any]:
    """Return the document that ``phenocast labour --json`` prints."""
    labour = plan.labour
    low, high = plan.available
    return {
        "schema_version": SCHEMA_VERSION,
        "engine_version": __version__,
        "kind": "labour",
        "issue_date": forecast.issue_date.isoformat(),
        "as_of": plan.as_of.isoformat(),
        "site": forecast.season.site.name,
        "draws": forecast.draws,
        "seed": forecast.seed,
        "currency": labour.currency,
        "pack": forecast.packout.to_dict(),
        "picking": _picking(plan, tallies),
        "packed_in": labour.packed_in,
        "figures": {**_figures(plan.plan), "seasons_at_large": _checked(plan.checked)},
        "weeks": [
            {**_row(row), "packing_people": _people(packing, labour.hours_per_week)}
            for row, packing in zip(plan.rows, plan.packing_h.T, strict=True)
        ],
        "loading_h": [
            {"week": week, "p50": _q(hours, 0.5), "p90": _q(hours, 0.9)}
            for week, hours in zip(plan.weeks, plan.loading_h.T, strict=True)
        ],
        "blocks": [
            {
                "block": block.block,
                "weeks": [
                    {
                        "week": week,
                        "trays": dict(zip(("p10", "p50", "p90"), trays.round(1), strict=True)),
                        "picks": round(float(picks), 1),
                        "left_in_field_kg": round(float(left)),
                    }
                    for week, trays, picks, left in zip(
                        plan.weeks, block.trays.T, block.picks, block.left_kg, strict=True
                    )
                    if trays[2] > 0.0
                ],
                **forecast.seen_in(forecast.season.block(block.block)),
            }
            for block in plan.blocks
        ],
        "frost": labour_frost(forecast, plan),
        "heat": {
            "cautions": list(CAUTIONS),
            "time_zone": forecast.season.site.time_zone,
            "clock": clock_names(forecast.season.site.time_zone, plan.weeks),
            "working_hours": [
                plan.day.start, (plan.day.start + plan.day.span_h(plan.day.contract_h)) % 24.0
            ],
            "earliest": plan.day.earliest,
            "latest": plan.day.latest,
            "long_week": long_week(plan),
            "hot_overtime": hot_overtime(plan.heat),
            "weeks": [_heat(row) for row in plan.heat],
            "share_of_hours_in_plan": [
                {"week": week, "used": round(float(a), 3), "least_cautious": round(float(b), 3)}
                for week, a, b in zip(plan.weeks, low, high, strict=True)
            ],
        },
        "assumptions": [
            *assumed_labour(plan, fitted=tallies is not None),
            *assumed_numbers([block.setup for block in forecast.blocks]),
        ],
        "warnings": list(cautions_first([
            *plan.warnings,
            *(tallies.warnings if tallies else ()),
            *block_notes(forecast),
            # its own cautions on heat say more
            *(text for text in forecast.warnings if text != CREWS_AND_HEAT),
        ])),
    }  # fmt: skip


def clock_names(time_zone: str, weeks: Sequence[str]) -> list[dict[str, Any]]:
    """Return the names of the local clock over some weeks, each with the day from which it holds.

    Examples
    --------
    >>> clock_names("Atlantic/Canary", ["2027-W12", "2027-W13"])[1]
    {'from': '2027-03-28', 'name': 'WEST', 'utc_offset_h': 1.0}
    """
    zone, first = ZoneInfo(time_zone), monday(weeks[0])
    told: list[dict[str, Any]] = []
    for number in range((monday(weeks[-1]) - first).days + 7):
        noon = datetime.combine(first + timedelta(days=number), time(12), tzinfo=zone)
        offset = (noon.utcoffset() or timedelta(0)) / timedelta(hours=1)
        if not told or told[-1]["utc_offset_h"] != offset:
            name = noon.tzname()
            told.append({"from": str(noon.date()), "name": name, "utc_offset_h": offset})
    return told


def long_week(plan: LabourPlan) -> dict[str, Any] | None:
    """Return the longest week that the plan gives one person, where it is above the limit."""
    stated = plan.labour.long_week_h
    limit = shipped_labour()["day"].value("long_week") if stated is None else stated
    hours = {row.week: row.hours_a_person[2] for row in plan.heat}
    terms = plan.plan.terms
    for week, people in zip(plan.weeks, plan.checked.temporary.max(axis=0), strict=True):
        if people > 1e-6:
            hours[week] = max(hours.get(week, 0.0), terms.temporary_h)
    long = [week for week, worked in hours.items() if worked > limit + 1e-6]
    if not long:
        return None
    worst = max(long, key=lambda week: hours[week])
    return {"limit_h": limit, "stated": stated is not None, "weeks": len(long), "worst": worst,
            "hours": round(hours[worst], 1)}  # fmt: skip


def hot_overtime(heat: Sequence[HeatWeek]) -> dict[str, Any] | None:
    """Return where the plan buys most hours beyond the contract that are above the heat limit."""
    hot = [row for row in heat if row.overtime_above_h[1] >= 0.5]
    if not hot:
        return None
    worst = max(hot, key=lambda row: row.overtime_above_h[1])
    return {"weeks": len(hot), "worst": worst.week, "hours": round(worst.overtime_above_h[1], 1)}


def block_notes(forecast: SeasonForecast) -> list[str]:
    """Return the warnings of the blocks, each once, led by the names of its blocks."""
    names: dict[str, list[str]] = {}
    for block in forecast.blocks:
        for text in block.warnings:
            names.setdefault(text, []).append(block.setup.block.name)
    return [
        ", ".join(blocks[:MOST_NAMES])
        + (f" and {len(blocks) - MOST_NAMES} more" if len(blocks) > MOST_NAMES else "")
        + f": {text}"
        for text, blocks in names.items()
    ]


def assumed_labour(plan: LabourPlan, *, fitted: bool) -> list[dict[str, Any]]:
    """Return the assumed numbers of labour that a plan uses, in the form of the forecast's own.

    Parameters
    ----------
    plan : LabourPlan
    fitted : bool
        Whether walk and reach come from tallies.
    """
    labour = plan.labour
    kinds = ["picking", "packing", "crew", "heat"]
    kinds += ["day"]
    kinds += ["cooling"] if labour.cooler_positions is not None else []
    replaced = {"walk", "reach", "fruit_mass"} if fitted else set()
    if labour.packed_in == "field" or labour.packing_kg_per_h is not None:
        replaced.add("shed_rate")
    replaced |= {"start", "breaks"} if labour.work_hours is not None else set()
    replaced |= {"long_week"} if labour.long_week_h is not None else set()
    stated = ("over_pack", "left_share", "deferral_share", "deferral_loss")
    replaced |= {name for name in stated if getattr(labour, name) is not None}
    shipped = {kind: shipped_labour()[kind] for kind in kinds}
    return [
        row
        for kind, numbers in shipped.items()
        for row in assumed_of(f"labour {kind}", numbers, set(numbers) - replaced)
    ]


def _picking(plan: LabourPlan, tallies: TallyFit | None) -> dict[str, Any]:
    rates = plan.rates
    told: dict[str, Any] = {
        "walk_h_per_ha": round(rates.walk_h_per_ha, 2),
        "reach_h_per_t": round(rates.reach_h_per_t, 2),
        "from": "shipped assumption" if tallies is None else "your tallies",
    }
    if tallies is not None:
        told["tallies"] = {
            "picks": tallies.picks,
            "walk_interval": [round(v, 2) for v in tallies.walk_interval],
            "reach_interval": [round(v, 2) for v in tallies.reach_interval],
            "level": tallies.level,
            "r_squared": round(tallies.r_squared, 3),
            "yields_t_per_ha": [round(v, 3) for v in tallies.yields],
        }
    return told


def _figures(plan: CrewPlan) -> dict[str, Any]:
    worth, reduction = plan.worth, plan.reduction
    stochastic = worth.stochastic_solution
    knowing: float | None = worth.perfect_information
    # Below zero only by the gaps of the searches; a search cut short says nothing of either value.
    if not worth.solution.proven:
        stochastic = knowing = None
    stochastic = None if stochastic is None else max(stochastic, 0.0)
    knowing = None if knowing is None else max(knowing, 0.0)
    return {
        "expected_cost": round(plan.expected_cost, 2),
        "cvar_90": round(plan.cvar(0.9), 2),
        "fruit_picked_share": round(plan.fruit_share, 4),
        "no_fruit_lost_probability": round(plan.full_share, 4),
        "value_of_hedging": None if stochastic is None else round(stochastic, 2),
        "value_of_perfect_information": None if knowing is None else round(knowing, 2),
        "gap": float(f"{worth.solution.gap:.3g}"),
        "gap_reached": worth.solution.proven,
        "seasons_kept": len(plan.shares),
        "reduction_error": {
            "distance_share": round(reduction.distance_share, 4),
            "weekly_mean": round(reduction.mean_error, 4),
            "weekly_p90": round(reduction.p90_error, 4),
        },
    }


def _checked(checked: Checked) -> dict[str, Any]:
    limit = checked.over_loss_limit
    return {
        "seasons": checked.seasons,
        "expected_cost": round(checked.expected_cost, 2),
        "cvar_90": round(checked.cvar_90, 2),
        "fruit_picked_share": round(checked.fruit_share, 4),
        "no_fruit_lost_probability": round(checked.full_share, 4),
        "cover": checked.cover,
        "fruit_lost_probability": round(1.0 - checked.full_share, 4),
        "core_alone_probability": round(checked.core_share, 4),
        "overtime_probability": round(checked.overtime_share, 4),
        "temporary_probability": round(checked.temporary_share, 4),
        "all_short_probability": round(checked.short_share, 4),
        "over_loss_limit_probability": None if limit is None else round(limit, 4),
    }


def _row(row: CrewWeek) -> dict[str, Any]:
    p10, p50, p90 = row.trays
    return {
        "week": row.week,
        "trays": {"p10": round(p10), "p50": round(p50), "p90": round(p90)},
        "need_h": _pair(row.need_h, 0),
        "need_people": _pair(row.need_people, 1),
        "planned": row.planned,
        "change": row.change,
        "temporary": _pair(row.temporary, 1),
        "extra_h": _pair(row.extra_h, 0),
        "short_of_core_probability": round(row.short_of_core, 3),
        "short_of_all_probability": round(row.short_of_all, 3),
        "decide_by": row.decide_by.isoformat() if row.decide_by else None,
    }


def _people(hours: FloatArray, contract_h: float) -> dict[str, float]:
    return {"p50": _q(hours / contract_h, 0.5), "p90": _q(hours / contract_h, 0.9)}


def _heat(row: HeatWeek) -> dict[str, Any]:
    return {
        "week": row.week,
        "hours_a_person": {
            name: round(hours, 1)
            for name, hours in zip(("mean", "p90", "most"), row.hours_a_person, strict=True)
        },
        "new_people": row.new_people,
        "highest_wbgt_c": _pair(row.highest_wbgt_c, 1),
        "highest_heat_index_c": _pair(row.highest_heat_index_c, 1),
        "hours_above_limit_acclimatised": _pair(row.above_acclimatised_h, 1),
        "hours_above_limit_new_crew": _pair(row.above_new_h, 1),
        "overtime_hours_above_limit": _pair(row.overtime_above_h, 1),
        "work_share_range": [round(v, 3) for v in row.work_share],
        "work_share_range_new_crew": [round(v, 3) for v in row.work_share_new],
        "starts": [_start(start) for start in row.starts],
        "better_start": None if (better := row.better_start()) is None else _start(better),
        "suggestion": row.suggestion(),
    }


def _start(start: Start) -> dict[str, float]:
    return {name: round(value, 2) for name, value in asdict(start).items()}


def _pair(values: tuple[float, float], digits: int) -> dict[str, float]:
    return {"p50": round(values[0], digits), "p90": round(values[1], digits)}


def _q(values: FloatArray, level: float, digits: int = 1) -> float:
    return round(float(np.quantile(values, level)), digits)
