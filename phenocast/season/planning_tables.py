"""Keys of ``[labour]``, ``[prices]`` and ``[costs]``, for decisions on the forecast."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BaseModel, BeforeValidator, Field

from phenocast.season.kinds import OF_TABLES, Day, Hour, Hours, Number, Text, Whole, listed


class _Table(BaseModel):
    """A table of the file; a key that is not known is a fault."""

    model_config = OF_TABLES


class OvertimeTable(_Table):
    """Keys of ``overtime`` where the user states the rules: pairs of hours and multiplier."""

    day: list[list[Number]] = []
    week: list[list[Number]] = []
    longest_day_h: Number = Field(default=24.0, gt=0.0, le=24.0)
    longest_week_h: Number = Field(default=168.0, gt=0.0, le=168.0)


def overtime_table(value: Any) -> Any:
    """Return the name of an example as the table that holds it."""
    return {"example": value} if isinstance(value, str) else value


class OvertimeStated(OvertimeTable):
    """Rules of the user's own, or the name of a shipped example."""

    example: Text | None = None


class CrewTable(_Table):
    """Keys of one entry of ``crew_so_far``."""

    from_day: Day = Field(alias="from")
    people: Whole = Field(ge=0, le=100_000)


class LabourTable(_Table):
    """Keys of ``[labour]``."""

    currency: Text
    wage_per_h: Number = Field(gt=0.0, le=1_000_000.0)
    hours_per_week: Number = Field(gt=0.0, le=168.0)
    days_per_week: Whole = Field(default=6, ge=1, le=7)
    most_hours_per_week: Number | None = Field(default=None, gt=0.0, le=168.0)
    overtime: Annotated[OvertimeStated | None, BeforeValidator(overtime_table)] = None
    crew_now: Whole = Field(default=0, ge=0, le=100_000)
    crew_least: Whole = Field(default=0, ge=0, le=100_000)
    crew_most: Whole = Field(ge=0, le=100_000)
    crew_so_far: Annotated[list[CrewTable], BeforeValidator(listed)] = []
    notice_weeks: Whole = Field(default=0, ge=0, le=52)
    contract_weeks: Whole = Field(default=1, ge=1, le=52)
    hiring_cost: Number = Field(default=0.0, ge=0.0, le=1e9)
    release_cost: Number = Field(default=0.0, ge=0.0, le=1e9)
    temporary_most: Whole = Field(default=0, ge=0, le=100_000)
    temporary_wage_per_h: Number | None = Field(default=None, gt=0.0, le=1_000_000.0)
    temporary_hours_per_week: Number | None = Field(default=None, gt=0.0, le=168.0)
    temporary_rate: Number | None = Field(default=None, gt=0.0, le=2.0)
    pack: Text = "8 x 1 lb"
    tray_kg: Number | None = Field(default=None, gt=0.0, le=50.0)
    over_pack: Number | None = Field(default=None, ge=0.0, le=0.5)
    left_share: Number | None = Field(default=None, ge=0.0, le=0.9)
    value_per_tray: Number | None = Field(default=None, gt=0.0, le=1e9)
    packed_in: Literal["field", "shed"] = "field"
    packing_kg_per_h: Number | None = Field(default=None, gt=0.0, le=1000.0)
    line_trays_per_day: Number | None = Field(default=None, gt=0.0, le=1e9)
    cooler_trays_per_day: Number | None = Field(default=None, gt=0.0, le=1e9)
    cooler_positions: Whole | None = Field(default=None, ge=1, le=1000)
    deferral_share: Number | None = Field(default=None, ge=0.0, le=1.0)
    deferral_loss: Number | None = Field(default=None, ge=0.0, le=1.0)
    loss_limit: Number | None = Field(default=None, ge=0.0, le=1.0)
    fruit_g: Number | None = Field(default=None, gt=0.0, le=100.0)
    work_hours: Hours | None = None
    earliest: Hour | None = None
    latest: Hour | None = None
    long_week_h: Number | None = Field(default=None, gt=0.0, le=168.0)
    tallies: Text | None = None


class PricesTable(_Table):
    """Keys of ``[prices]``."""

    currency: Text
    file: Text | None = None
    months: dict[Text, Number] | None = None
    per_kg: Number | None = Field(default=None, gt=0.0, le=1e9)
    shape: Text | None = None
    season_sd: Number | None = Field(default=None, ge=0.0, le=2.0)
    week_sd: Number | None = Field(default=None, ge=0.0, le=2.0)
    week_memory: Number | None = Field(default=None, ge=0.0, le=0.99)
    supply_correlation: Number = Field(default=0.0, ge=-1.0, le=1.0)


class CostsTable(_Table):
    """Keys of ``[costs]``; amounts below zero by name are told by the checks."""

    currency: Text
    film_per_ha: dict[Text, Number] = {}
    transplant_each: dict[Text, Number] = {}
    planting_per_ha: Number = Field(default=0.0, ge=0.0, le=1e9)
    harvest_per_kg: Number = Field(default=0.0, ge=0.0, le=1e9)
