"""The result of a forecast: every block over every trace and draw, and its document."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from phenocast import __version__
from phenocast._typing import BoolArray, FloatArray, IntArray
from phenocast.forecast.conditioning import Leaning
from phenocast.forecast.frost import frost_part
from phenocast.forecast.packout import Packout, packout_of
from phenocast.forecast.season_days import TO_FIRST_BLOOM, HeatDays, SeasonEnd, heat_days, same_days
from phenocast.forecast.summary import (
    date_distribution,
    quantile_with_never,
    quantiles,
    quantiles_of_rows,
    spread_from,
    stage_dates,
    week_by_week,
)
from phenocast.forecast.visits import seen_part
from phenocast.forecast.weather_traces import WeatherTraces
from phenocast.harvest import week_labels
from phenocast.parameters import ParameterSet
from phenocast.parameters import labour as shipped_labour
from phenocast.phenology.work import ANTHESIS, FIRST_PICK, FLOWER_INITIATION, SURVIVING_SHARE
from phenocast.season import Block, Season, SeasonRecords
from phenocast.simulation.daily_sums import (
    BED_CROWN_HEAT_30,
    BED_CROWN_HOURS_30,
    BED_CROWN_MAX,
    BED_CROWN_MEAN,
    BED_SOIL_MAX,
    BED_SOIL_MEAN,
)
from phenocast.simulation.engine import PlantStates
from phenocast.simulation.frost import FrostNights
from phenocast.simulation.season_effects import SeasonEffects
from phenocast.simulation.setup import BlockSetup


def assumed_numbers(setups: Iterable[BlockSetup]) -> list[dict[str, Any]]:
    """Return the assumed numbers that the blocks use, each once, in a fixed order.

    Returns
    -------
    list of dict with ``set, name, value, unit, source``.
    """
    sets: dict[str, ParameterSet] = {}
    for setup in setups:
        kinds = (
            ("film", setup.film),
            ("film", setup.shoulder),
            ("bed", setup.physics),
            ("soil", setup.soil),
            ("cultivar", setup.cultivar),
            ("transplant", setup.transplant),
        )
        for kind, parameters in kinds:
            if parameters is not None:
                sets[f"{kind} {parameters.name}"] = parameters
    return [row for label, parameters in sorted(sets.items())
            for row in assumed_of(label, parameters)]  # fmt: skip


def assumed_of(
    label: str, parameters: ParameterSet, names: Collection[str] | None = None
) -> list[dict[str, Any]]:
    """Return the assumed numbers of one set; of some names only, where these are given."""
    return [
        {
            "set": label,
            "name": name,
            "value": parameter.value,
            "unit": parameter.unit,
            "source": parameter.source,
        }
        for name, parameter in parameters.items()
        if parameter.basis == "assumed" and (names is None or name in names)
    ]


if TYPE_CHECKING:
    from matplotlib.axes import Axes

SCHEMA_VERSION = 2


@dataclass(frozen=True)
class BlockForecast:
    """One block over every weather trace and draw.

    ``dates`` is ``[traces, draws, N_DATES]`` in days since planting, inf where not reached;
    ``weekly_g`` and ``spared_weekly_g`` ``[traces, draws, weeks]`` the marketable fruit of the ISO
    ``weeks``, as the block is protected and without frost nights [g per plant]; ``early_g``
    ``[traces, draws]`` that of the first days; ``bed`` ``[traces, physics draws, N_BED_DAILY,
    days]``. ``arrived_with_buds`` is ``[draws]``, and
    ``initiation_heat`` ``[2, traces, some draws]`` what `phenocast.simulation.initiation_heat`
    tells. ``effects`` are in dates and fruit already; None where nothing was fitted.
    Everything is cut at ``season_end`` but the ``states`` that were asked for.
    """

    setup: BlockSetup
    dates: FloatArray
    weeks: tuple[str, ...]
    weekly_g: NDArray[np.float32]
    spared_weekly_g: NDArray[np.float32]
    early_g: FloatArray
    bed: NDArray[np.float32]
    warnings: tuple[str, ...]
    arrived_with_buds: BoolArray
    initiation_heat: FloatArray
    season_end: SeasonEnd
    frost: FrostNights
    states: PlantStates
    effects: SeasonEffects | None = None
    leaning: Leaning | None = None

    @property
    def planting_date(self) -> date:
        """Day from which the dates count."""
        return self.setup.block.planting_date

    @property
    def season_g(self) -> FloatArray:
        """Marketable fruit of the season, ``[traces, draws]``. [g per plant]"""
        return np.asarray(self.weekly_g.sum(axis=-1, dtype=np.float64))

    @property
    def spared_g(self) -> FloatArray:
        """The same without frost nights."""
        return np.asarray(self.spared_weekly_g.sum(axis=-1, dtype=np.float64))

    @property
    def without_frost(self) -> BlockForecast:
        """The same draws without frost nights: their fruit by week, not their dates."""
        return replace(self, weekly_g=self.spared_weekly_g)

    @cached_property
    def heat_days(self) -> HeatDays:
        """Days over which the heat of the crown is told."""
        bloom, pick = (
            quantile_with_never(self.dates[..., stage], 0.5) for stage in (ANTHESIS, FIRST_PICK)
        )
        return heat_days(self.setup, bloom, pick)

    def to_dict(self, packout: Packout, compared: tuple[int, int]) -> dict[str, Any]:
        """Return the block's part of the forecast document.

        ``compared`` are the days over which its heat is held against that of other blocks
        (`phenocast.forecast.season_days.same_days`).
        """
        block = self.setup.block
        first_pick = date_distribution(self.planting_date, self.dates[..., FIRST_PICK])
        early_days = int(self.setup.cultivar.value("early_season_days"))
        return {
            "block": block.name,
            "cultivar": block.cultivar,
            "film": block.film,
            "transplant": block.transplant,
            "planting_date": block.planting_date.isoformat(),
            "last_day": self.setup.last_day.isoformat(),
            "season_end": self.season_end.to_dict(),
            "plants": round(block.plants),
            "first_pick": {
                **first_pick,
                "threshold_g_per_plant": block.first_pick_g_per_plant,
                "spread_from": spread_from(
                    self.dates[..., FIRST_PICK], None if self.effects is None else self.effects.late
                ),
            },
            "stages": {
                "flower_initiation": self._initiation(),
                "anthesis": stage_dates(self.planting_date, self.dates[..., ANTHESIS]),
            },
            "crown": self._crown(compared),
            "week_by_week": week_by_week(
                self.planting_date,
                self.bed,
                {
                    "flower_initiation": np.where(
                        self.arrived_with_buds, 0.0, self.dates[..., FLOWER_INITIATION]
                    ),
                    "anthesis": self.dates[..., ANTHESIS],
                    "first_pick": self.dates[..., FIRST_PICK],
                },
            ),
            "plants_alive_share": quantiles(self.dates[..., SURVIVING_SHARE], 3),
            "fruit": {
                "season_g_per_plant": quantiles(self.season_g),
                "early_g_per_plant": quantiles(self.early_g),
                "early_until": (self.planting_date + timedelta(days=early_days - 1)).isoformat(),
            },
            "weekly": weekly_rows(self.weeks, self.weekly_g, packout.trays(self.weekly_g, block)),
            "frost": self.frost_part(packout),
            **({} if self.leaning is None else {"leaning": self.leaning.to_dict()}),
            **({} if self.effects is None else {"field_spread": dict(self.effects.spreads)}),
            "warnings": list(self.warnings),
        }

    def _initiation(self) -> dict[str, Any]:
        """When plants form flowers that arrived without buds, and what heat took from all."""
        others = self.dates[:, ~self.arrived_with_buds, FLOWER_INITIATION]
        dated: dict[str, Any] = dict.fromkeys(("median", "p10", "p90", "not_reached_probability"))
        if others.size:
            dated = stage_dates(self.planting_date, others)
        stopped, lost = self.initiation_heat
        lost = lost[np.isfinite(lost)]
        days = int(self.setup.cultivar.value("initiation_heat_days"))
        return {
            "arrived_with_buds": round(float(self.arrived_with_buds.mean()), 4),
            **dated,
            "heat": {
                "days": min(days, self.setup.n_days),
                "hours_stopped_share": quantiles(stopped, 3),
                "new_trusses_lost_share": quantiles(lost, 3) if lost.size else None,
            },
        }

    def frost_part(self, packout: Packout) -> dict[str, Any]:
        """Return what is told of frost, `phenocast.forecast.frost.frost_part`."""
        block = self.setup.block
        weekly, spared = (one.astype(np.float64) for one in (self.weekly_g, self.spared_weekly_g))
        rows = weekly_rows(self.weeks, spared, packout.trays(spared, block))
        return frost_part(block, self.frost, self.weeks, weekly, spared, rows)

    def _crown(self, compared: tuple[int, int]) -> dict[str, Any]:
        months: dict[str, list[int]] = {}
        for day in range(self.bed.shape[-1]):
            label = (self.planting_date + timedelta(days=day)).strftime("%Y-%m")
            months.setdefault(label, []).append(day)
        name, headline = self.heat_days.headline
        to_bloom = self.heat_days.to_bloom
        return {
            "headline": name,
            TO_FIRST_BLOOM: self._sums(to_bloom, reached=self.heat_days.bloom is not None),
            **({} if name == TO_FIRST_BLOOM else {name: self._sums(headline)}),
            "compared": self._sums(compared),
            "season": self._sums((0, self.bed.shape[-1])),
            "by_month": [
                {"month": label, **self._heat(np.array(days))} for label, days in months.items()
            ],
        }

    def _sums(self, days: tuple[int, int], **more: Any) -> dict[str, Any]:
        """Heat from one day since planting to another, the last left out."""
        part = self.bed[..., slice(*days)]
        heat = part[:, :, BED_CROWN_HEAT_30].sum(axis=-1)
        first, stop = (self.planting_date + timedelta(days=day) for day in days)
        told = self._heat(np.arange(*days)) if stop > first else {}
        return {
            "days": (stop - first).days,
            "from": first.isoformat(),
            "to": (stop - timedelta(days=1)).isoformat(),
            **more,
            "hours_above_30c": told.get("hours_above_30c", 0.0),
            "degree_hours_above_30c": told.get("degree_hours_above_30c", 0.0),
            "degree_hours_above_30c_spread": quantiles(heat, 0),
            "max_c": told.get("max_c"),
        }

    def _heat(self, days: IntArray) -> dict[str, float]:
        part = self.bed[..., days]

        def middle(values: FloatArray, digits: int = 1) -> float:
            return round(float(np.median(values)), digits)

        return {
            "mean_c": middle(part[:, :, BED_CROWN_MEAN].mean(axis=-1)),
            "max_c": middle(part[:, :, BED_CROWN_MAX].max(axis=-1)),
            "hours_above_30c": middle(part[:, :, BED_CROWN_HOURS_30].sum(axis=-1), 0),
            "degree_hours_above_30c": middle(part[:, :, BED_CROWN_HEAT_30].sum(axis=-1), 0),
            "soil_10cm_mean_c": middle(part[:, :, BED_SOIL_MEAN].mean(axis=-1)),
            "soil_10cm_max_c": middle(part[:, :, BED_SOIL_MAX].max(axis=-1)),
        }


def weekly_rows(
    labels: Sequence[str], ripe_g: NDArray[np.floating[Any]], trays: FloatArray
) -> list[dict[str, Any]]:
    """Return the weeks from the first to the last in which one season in ten has ripe fruit."""
    rows = [
        {"week": label, "g_per_plant": of_plant, "trays": of_block}
        for label, of_plant, of_block in zip(
            labels,
            quantiles_of_rows(ripe_g.reshape(-1, len(labels)).T),
            quantiles_of_rows(trays.reshape(-1, len(labels)).T, 0),
            strict=True,
        )
    ]
    return _trimmed(rows, "g_per_plant")


def _trimmed(rows: list[dict[str, Any]], key: str) -> list[dict[str, Any]]:
    picked = [number for number, row in enumerate(rows) if row[key]["p90"] > 0.0]
    return rows[picked[0] : picked[-1] + 1] if picked else []


@dataclass(frozen=True)
class SeasonForecast:
    """Every block of a season, under the same weather traces."""

    season: Season
    issue_date: date
    draws: int
    seed: int
    traces: WeatherTraces
    blocks: tuple[BlockForecast, ...]
    warnings: tuple[str, ...]
    records: SeasonRecords | None = None

    @cached_property
    def with_protection(self) -> SeasonForecast | None:
        """The same season where blocks that state no protection from frost lose nothing to it.

        None where every block states its protection.
        """
        if all(block.setup.block.frost_kind for block in self.blocks):
            return None
        blocks = (
            block if block.setup.block.frost_kind else block.without_frost for block in self.blocks
        )
        return replace(self, blocks=tuple(blocks))

    @cached_property
    def packout(self) -> Packout:
        """The chain from ripe fruit to packed trays, with the draws of this forecast."""
        return packout_of(self.season.labour, draws=self.draws, seed=self.seed)

    def total_trays(self) -> tuple[list[str], FloatArray]:
        """Return the trays of all blocks together, ``[traces, draws, weeks]``.

        Blocks share the weather of each trace, so a bad year is bad for all of them at once.
        """
        start = min(block.planting_date for block in self.blocks)
        stop = max(block.setup.last_day for block in self.blocks)
        labels, _ = week_labels(start, (stop - start).days + 1)
        place = {label: number for number, label in enumerate(labels)}
        total = np.zeros((*self.blocks[0].dates.shape[:2], len(labels)))
        for block in self.blocks:
            columns = [place[label] for label in block.weeks]
            total[..., columns] += self.packout.trays(block.weekly_g, block.setup.block)
        return labels, total

    def seen_in(self, block: Block) -> dict[str, Any]:
        """Return ``seen``, the visits to a block and its picks; nothing where none is recorded."""
        if self.records is None or block.name not in self.records.blocks:
            return {}
        trays_per_g = self.packout.trays_per_g(block.plants)
        visits = self.records.blocks[block.name]
        return {"seen": seen_part(visits, block.planting_date, trays_per_g)}

    def to_dict(self) -> dict[str, Any]:
        """Return the whole forecast as one document of plain values."""
        site = self.season.site
        known = self.traces.observed_until
        spans = [block.heat_days for block in self.blocks]
        told, windows = same_days(spans, [(one.planting, one.n_days) for one in spans])
        return {
            "schema_version": SCHEMA_VERSION,
            "kind": "forecast",
            "engine_version": __version__,
            "issue_date": self.issue_date.isoformat(),
            "site": {
                "name": site.name,
                "latitude": site.latitude,
                "longitude": site.longitude,
                "elevation_m": site.elevation_m,
                "time_zone": site.time_zone,
            },
            "weather": {
                "observed_until": known.isoformat() if known else None,
                "outlook_members": self.traces.outlook_members,
                "past_years": list(self.traces.past_years),
                "weather_traces": len(self.traces.traces),
                "filled_hours": self._filled(),
            },
            "draws": self.draws,
            "seed": self.seed,
            "pack": self.packout.to_dict(),
            "blocks": [
                block.to_dict(self.packout, days) | self.seen_in(block.setup.block)
                for block, days in zip(self.blocks, windows, strict=True)
            ],
            "heat_compared": told,
            "total": {"weekly": self.tray_rows()},
            "frost": self.frost_part(),
            "assumptions": [
                *assumed_of("labour picking", shipped_labour()["picking"], self._packing()),
                *assumed_numbers([block.setup for block in self.blocks]),
            ],
            "warnings": list(self.warnings),
        }

    def to_frame(self) -> pd.DataFrame:
        """Return one row a block and week: P10, P50 and P90 of fruit [g plant-1] and of trays."""
        rows = [
            {"block": block["block"], **row}
            for block in self.to_dict()["blocks"]
            for row in block["weekly"]
        ]
        return pd.json_normalize(rows, sep="_")

    def plot(self, axes: Axes | None = None) -> Axes:
        """Draw the fruit of each week, median and 80 % interval of each block; return the axes."""
        from matplotlib import pyplot as plt

        own = plt.subplots()[1] if axes is None else axes
        for name, rows in self.to_frame().groupby("block", sort=False):
            low, middle, high = (rows[f"g_per_plant_{part}"] for part in ("p10", "p50", "p90"))
            (line,) = own.plot(rows["week"], middle, label=str(name))
            own.fill_between(rows["week"], low, high, color=line.get_color(), alpha=0.2)
        own.set_ylabel("fruit of the week [g plant-1]")
        own.tick_params(axis="x", rotation=90)
        own.legend()
        return own

    def tray_rows(self) -> list[dict[str, Any]]:
        """Return the weeks with the trays of all blocks together."""
        labels, total = self.total_trays()
        trays = quantiles_of_rows(total.reshape(-1, len(labels)).T, 0)
        rows = [{"week": week, "trays": one} for week, one in zip(labels, trays, strict=True)]
        return _trimmed(rows, "trays")

    def frost_part(self) -> dict[str, Any]:
        """Return the trays with protection from frost, None where all blocks state theirs."""
        beside = self.with_protection
        return {"with_protection": None if beside is None else {"weekly": beside.tray_rows()}}

    def _packing(self) -> set[str]:
        """Shipped numbers of picking that the trays depend on."""
        labour = self.season.labour
        stated = labour is not None and labour.left_share is not None
        return {"least_worth"} if stated else {"least_worth", "left_share"}

    def _filled(self) -> dict[str, int]:
        totals: dict[str, int] = {}
        for trace in self.traces.traces:
            for name, count in trace.weather.filled_counts().items():
                totals[name] = totals.get(name, 0) + count
        return {name: round(n / len(self.traces.traces)) for name, n in totals.items()}
