"""Plants in growth chambers: the shipped central parameters on constant days."""

from __future__ import annotations

from phenocast.harvest import grow
from phenocast.parameters import cultivars, transplants
from phenocast.phenology import plant_records
from phenocast.phenology.chamber import chamber_days


def plant_of(cultivar, transplant, **changes):
    """Record of the central values, with some of them changed."""
    records = plant_records(cultivars()[cultivar], transplants()[transplant])
    for name, value in changes.items():
        records[name] = value
    return records[0]


def chamber(cultivar, transplant, n_days, day_c, photoperiod_h, *, plant=None, **days):
    """Run a plant in a chamber. `plant` changes fields of its record; the rest go to the days."""
    table = chamber_days(n_days, day_c, photoperiod_h, cultivar=cultivars()[cultivar], **days)
    return grow(table, plant_of(cultivar, transplant, **(plant or {})))
