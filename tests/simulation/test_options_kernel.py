"""An option's kernel leaves out what nobody reads; what it keeps is that of whole seasons."""

from datetime import date

import numpy as np
import pytest

from phenocast.harvest import grow
from phenocast.phenology import lane_records, make_work, plant_records
from phenocast.phenology.daily import INDUCTION_RESPONSE
from phenocast.phenology.lanes import LANES, side_by_side
from phenocast.simulation.options_kernel import option_seasons, planting_cover, ripe_times
from phenocast.simulation.planting_dates import (
    daily_of_planting,
    mix_nodes,
    node_beds,
    node_induction,
    node_mix,
    span_bed,
)
from phenocast.simulation.responses import induction_tables
from phenocast.simulation.setup import physics_records
from phenocast.weather import HourlyWeather

from .conftest import a_setup

FIRST, PLANTING, LAST = date(2025, 9, 20), date(2025, 10, 5), date(2025, 11, 1)
DRAWS = 11  # more than go side by side


@pytest.mark.parametrize("transplant", ["bare-root", "plug", "cold-stored"])
def test_an_option_is_its_seasons_grown_whole(miami: HourlyWeather, transplant: str) -> None:
    setup = a_setup("black", planting=FIRST, transplant=transplant)
    plants = plant_records(setup.cultivar, setup.transplant, n_draws=DRAWS, seed=3)
    tables = induction_tables(
        plants.induction_base, plants.induction_optimum, plants.induction_ceiling
    )
    bed = span_bed(setup, miami, FIRST)
    nodes = node_beds(bed, LAST, physics_records(setup)[0])
    mix = node_mix(nodes, PLANTING, planting_cover(bed, PLANTING), 8)
    daily = daily_of_planting(nodes, mix)
    induction = node_induction(nodes, tables)
    n_days = daily.shape[1]
    week = np.arange(n_days + mix.offset) // 7
    results = np.zeros((DRAWS, 5))
    weekly = np.zeros((DRAWS, week[-1] + 1), dtype=np.float32)
    groups = lane_records(plants)
    option_seasons(
        mix, daily, induction, ripe_times(nodes, groups), 3.0, groups, make_work(n_days + 5), 100,
        week, results, weekly, np.arange(DRAWS),
    )
    mixed = side_by_side(n_days)
    for draw in range(DRAWS):
        mix_nodes(induction[draw // LANES], mix.weights, mix.offset, mixed)
        daily[INDUCTION_RESPONSE] = mixed[:, draw % LANES]
        whole = grow(daily, plants[draw], 3.0)
        first_pick, _, early, season, alive = results[draw]
        assert first_pick == pytest.approx(whole.first_pick, abs=1e-9)
        assert season == pytest.approx(whole.marketable_g.sum(), rel=1e-9)
        assert early == pytest.approx(whole.marketable_g[:100].sum(), rel=1e-9)
        assert alive == whole.surviving_share
        by_week = np.bincount(week[mix.offset :], whole.marketable_g, len(weekly[draw]))
        assert weekly[draw] == pytest.approx(by_week, rel=1e-6, abs=1e-6)
