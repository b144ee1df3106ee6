"""The result of a forecast: arrays for programs, one document for everything else."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from phenocast import __version__
from phenocast.forecast.assumptions import assumed_numbers, assumed_of
from phenocast.forecast.field_spread import FieldEffects
from phenocast.forecast.futures import Futures
from phenocast.forecast.packout import Packout, packout_of
from phenocast.forecast.summary import (
    date_distribution,
    quantiles,
    quantiles_of_rows,
    stage_dates,
)
from phenocast.forecast.week_by_week import spread_from, week_by_week
from phenocast.harvest import sum_by_week, week_labels
from phenocast.parameters import labour as shipped_labour
from phenocast.phenology.work import ANTHESIS, FIRST_PICK, FLOWER_INITIATION, SURVIVING_SHARE
from phenocast.season import Season
from phenocast.simulation.daily_sums import (
    BED_CROWN_HEAT_30,
    BED_CROWN_HOURS_30,
    BED_CROWN_MAX,
    BED_CROWN_MEAN,
    BED_SOIL_MAX,
    BED_SOIL_MEAN,
)
from phenocast.simulation.setup import BlockSetup

SCHEMA_VERSION = 1

Array = NDArray[np.float64]


@dataclass(frozen=True)
class BlockForecast:
    """One block over every future and draw.

    ``dates`` is ``[futures, draws, N_DATES]`` in days since planting, inf where not reached;
    ``marketable_g`` ``[futures, draws, days]`` [g per plant]; ``bed`` ``[futures, physics draws,
    N_BED_DAILY, days]``. ``effects`` are in dates and fruit already; None where nothing was fitted.
    """

    setup: BlockSetup
    dates: Array
    marketable_g: NDArray[np.float32]
    bed: NDArray[np.float32]
    warnings: tuple[str, ...]
    effects: FieldEffects | None = None

    @property
    def planting_date(self) -> date:
        """Day from which the dates count."""
        return self.setup.block.planting_date

    def weeks(self) -> tuple[list[str], Array]:
        """Return the ISO weeks of the season and the fruit of each, ``[futures, draws, weeks]``."""
        return self._weeks

    @cached_property
    def _weeks(self) -> tuple[list[str], Array]:
        labels, week_of_day = week_labels(self.planting_date, self.marketable_g.shape[-1])
        daily = self.marketable_g.astype(np.float64)
        return labels, sum_by_week(daily, week_of_day, len(labels))

    def to_dict(self, packout: Packout) -> dict[str, Any]:
        """Return the block's part of the forecast document."""
        block = self.setup.block
        first_pick = date_distribution(self.planting_date, self.dates[..., FIRST_PICK])
        labels, weekly = self.weeks()
        early_days = int(self.setup.cultivar.value("early_season_days"))
        season_g = self.marketable_g.sum(axis=-1)
        early_g = self.marketable_g[..., :early_days].sum(axis=-1)
        return {
            "block": block.name,
            "cultivar": block.cultivar,
            "film": block.film,
            "transplant": block.transplant,
            "planting_date": block.planting_date.isoformat(),
            "last_day": self.setup.last_day.isoformat(),
            "plants": round(block.plants),
            "first_pick": {
                **first_pick,
                "threshold_g_per_plant": block.first_pick_g_per_plant,
                "spread_from": spread_from(
                    self.dates[..., FIRST_PICK], None if self.effects is None else self.effects.late
                ),
            },
            "stages": {
                "flower_initiation": stage_dates(
                    self.planting_date, self.dates[..., FLOWER_INITIATION]
                ),
                "anthesis": stage_dates(self.planting_date, self.dates[..., ANTHESIS]),
            },
            "crown": self._crown(),
            "week_by_week": week_by_week(
                self.planting_date,
                self.bed,
                {
                    "flower_initiation": self.dates[..., FLOWER_INITIATION],
                    "anthesis": self.dates[..., ANTHESIS],
                    "first_pick": self.dates[..., FIRST_PICK],
                },
            ),
            "plants_alive_share": quantiles(self.dates[..., SURVIVING_SHARE], 3),
            "fruit": {
                "season_g_per_plant": quantiles(season_g),
                "early_g_per_plant": quantiles(early_g),
                "early_until": (self.planting_date + timedelta(days=early_days - 1)).isoformat(),
            },
            "weekly": weekly_rows(labels, weekly, packout.trays(weekly, block)),
            **({} if self.effects is None else {"field_spread": dict(self.effects.spreads)}),
            "warnings": list(self.warnings),
        }

    def _crown(self) -> dict[str, Any]:
        months: dict[str, list[int]] = {}
        for day in range(self.bed.shape[-1]):
            label = (self.planting_date + timedelta(days=day)).strftime("%Y-%m")
            months.setdefault(label, []).append(day)
        whole = self._heat(np.arange(self.bed.shape[-1]))
        return {
            "hours_above_30c": whole["hours_above_30c"],
            "degree_hours_above_30c": whole["degree_hours_above_30c"],
            "degree_hours_above_30c_spread": quantiles(
                self.bed[:, :, BED_CROWN_HEAT_30].sum(axis=-1), 0
            ),
            "max_c": whole["max_c"],
            "by_month": [
                {"month": label, **self._heat(np.array(days))} for label, days in months.items()
            ],
        }

    def _heat(self, days: NDArray[np.int64]) -> dict[str, float]:
        part = self.bed[..., days]

        def middle(values: Array, digits: int = 1) -> float:
            return round(float(np.median(values)), digits)

        return {
            "mean_c": middle(part[:, :, BED_CROWN_MEAN].mean(axis=-1)),
            "max_c": middle(part[:, :, BED_CROWN_MAX].max(axis=-1)),
            "hours_above_30c": middle(part[:, :, BED_CROWN_HOURS_30].sum(axis=-1), 0),
            "degree_hours_above_30c": middle(part[:, :, BED_CROWN_HEAT_30].sum(axis=-1), 0),
            "soil_10cm_mean_c": middle(part[:, :, BED_SOIL_MEAN].mean(axis=-1)),
            "soil_10cm_max_c": middle(part[:, :, BED_SOIL_MAX].max(axis=-1)),
        }


def weekly_rows(labels: Sequence[str], ripe_g: Array, trays: Array) -> list[dict[str, Any]]:
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
    """Every block of a season, under the same futures."""

    season: Season
    issue_date: date
    draws: int
    seed: int
    futures: Futures
    blocks: tuple[BlockForecast, ...]
    warnings: tuple[str, ...]

    @cached_property
    def packout(self) -> Packout:
        """The chain from ripe fruit to packed trays, with the draws of this forecast."""
        return packout_of(self.season.labour, draws=self.draws, seed=self.seed)

    def total_trays(self) -> tuple[list[str], Array]:
        """Return the trays of all blocks together, ``[futures, draws, weeks]``.

        Blocks share the weather of each future, so a bad year is bad for all of them at once.
        """
        start = min(block.planting_date for block in self.blocks)
        stop = max(block.setup.last_day for block in self.blocks)
        labels, _ = week_labels(start, (stop - start).days + 1)
        place = {label: number for number, label in enumerate(labels)}
        total = np.zeros((*self.blocks[0].dates.shape[:2], len(labels)))
        for block in self.blocks:
            own, weekly = block.weeks()
            columns = [place[label] for label in own]
            total[..., columns] += self.packout.trays(weekly, block.setup.block)
        return labels, total

    def to_dict(self) -> dict[str, Any]:
        """Return the whole forecast as one document of plain values."""
        labels, total = self.total_trays()
        rows = [
            {"week": label, "trays": trays}
            for label, trays in zip(
                labels, quantiles_of_rows(total.reshape(-1, len(labels)).T, 0), strict=True
            )
        ]
        site = self.season.site
        known = self.futures.observed_until
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
                "outlook_members": self.futures.outlook_members,
                "past_years": list(self.futures.past_years),
                "futures": len(self.futures.futures),
                "filled_hours": self._filled(),
            },
            "draws": self.draws,
            "seed": self.seed,
            "pack": self.packout.to_dict(),
            "blocks": [block.to_dict(self.packout) for block in self.blocks],
            "total": {"weekly": _trimmed(rows, "trays")},
            "assumptions": [
                *assumed_of("labour picking", shipped_labour()["picking"], self._packing()),
                *assumed_numbers([block.setup for block in self.blocks]),
            ],
            "warnings": list(self.warnings),
        }

    def _packing(self) -> set[str]:
        """Shipped numbers of picking that the trays depend on."""
        labour = self.season.labour
        stated = labour is not None and labour.left_share is not None
        return {"least_worth"} if stated else {"least_worth", "left_share"}

    def _filled(self) -> dict[str, int]:
        totals: dict[str, int] = {}
        for future in self.futures.futures:
            for name, count in future.weather.filled_counts().items():
                totals[name] = totals.get(name, 0) + count
        return {name: round(n / len(self.futures.futures)) for name, n in totals.items()}
