"""Flower initiation to truss emergence, anthesis and ripe fruit, in cohorts of trusses."""

from phenocast.phenology.daily import DAILY_ROWS, N_DAILY, check_daily
from phenocast.phenology.development import develop
from phenocast.phenology.nursery import NurseryState, nursery_state, plant_from_nursery
from phenocast.phenology.plant import (
    CULTIVAR_FIELDS,
    PLANT_DTYPE,
    PLANT_FIELDS,
    TRANSPLANT_FIELDS,
    plant_records,
)
from phenocast.phenology.work import N_DATES, Work, make_work

__all__ = [
    "CULTIVAR_FIELDS",
    "DAILY_ROWS",
    "N_DAILY",
    "N_DATES",
    "PLANT_DTYPE",
    "PLANT_FIELDS",
    "TRANSPLANT_FIELDS",
    "NurseryState",
    "Work",
    "check_daily",
    "develop",
    "make_work",
    "nursery_state",
    "plant_from_nursery",
    "plant_records",
]
