"""An option's kernel leaves out what nobody reads; what it keeps is that of whole seasons."""

from datetime import date

import numpy as np
import pytest

from phenocast.harvest import grow
from phenocast.phenology import make_work, plant_records
from phenocast.phenology.daily import CROWN_HEAT_30, INDUCTION_RESPONSE
from phenocast.phenology.work import CROWN_HEAT
from phenocast.simulation.node_weights import mix_nodes
from phenocast.simulation.option_dates import daily_of, date_covers, date_tables, weights_of
from phenocast.simulation.options_kernel import N_RESULTS, option_seasons, ripe_times
from phenocast.simulation.planting_dates import node_beds, node_induction, span_bed
from phenocast.simulation.responses import induction_tables, tables_in_lanes
from phenocast.simulation.setup import physics_records
from phenocast.vector import LANES, lane_records, side_by_side
from phenocast.weather import HourlyWeather

from .conftest import a_setup

FIRST, PLANTING, LAST = date(2025, 9, 20), date(2025, 10, 5), date(2025, 11, 1)
DRAWS = 11  # more than go side by side


@pytest.mark.parametrize("transplant", ["bare-root", "plug", "cold-stored"])
def test_an_option_is_its_seasons_grown_whole(miami: HourlyWeather, transplant: str) -> None:
    setup = a_setup("black", planting=FIRST, transplant=transplant)
    plants = plant_records(setup.cultivar, setup.transplant, n_draws=DRAWS, seed=3)
    tables_of_plants = induction_tables(
        plants.induction_base, plants.induction_optimum, plants.induction_ceiling
    )
    bed = span_bed(setup, miami, FIRST)
    covers = date_covers(bed, [FIRST, PLANTING, LAST])
    nodes = node_beds(bed, LAST, physics_records(setup)[0], covers.counted)
    work = make_work(bed.days.n_days + 5)
    tables = date_tables(nodes, covers, work)
    induction = node_induction(nodes, tables_in_lanes(tables_of_plants))
    week = np.arange(bed.days.n_days) // 7
    results = np.full((3, DRAWS, N_RESULTS), np.nan)
    weekly = np.full((3, DRAWS, week[-1] + 1), np.nan, dtype=np.float32)
    groups = lane_records(plants)
    option_seasons(
        tables,
        np.tile([[True], [True], [False]], 2),
        induction,
        ripe_times(bed, groups),
        np.stack([groups] * 3),
        3.0,
        np.array([100, 85, 58]),
        week,
        work,
        results,
        weekly,
    )
    for number in (0, 1):
        daily, offset = daily_of(tables, number), tables.offset[number]
        mixed = side_by_side(daily.shape[1])
        heat = tables.weather[number, CROWN_HEAT, daily.shape[1]]
        assert heat == pytest.approx(daily[CROWN_HEAT_30].sum(), rel=1e-12)
        for draw in range(DRAWS):
            mix_nodes(
                induction[draw // LANES],
                weights_of(tables, number),
                tables.newer[number],
                offset,
                mixed,
            )
            daily[INDUCTION_RESPONSE] = mixed[:, draw % LANES]
            whole = grow(daily, plants[draw], 3.0)
            first_pick, bloom, early, season, alive = results[number, draw]
            assert first_pick == pytest.approx(whole.first_pick, abs=1e-9)
            assert bloom == pytest.approx(whole.anthesis, abs=1e-9)
            assert season == pytest.approx(whole.marketable_g.sum(), rel=1e-9)
            early_days = (100, 85)[number]
            assert early == pytest.approx(whole.marketable_g[:early_days].sum(), rel=1e-9)
            assert alive == whole.surviving_share
            by_week = np.bincount(week[offset:], whole.marketable_g, weekly.shape[2])
            assert weekly[number, draw] == pytest.approx(by_week, rel=1e-6, abs=1e-6)
    # of a date that is not run only what hangs on its own first days is there
    assert np.isfinite(results[2]).any(axis=0).tolist() == [False] * 4 + [True]
    assert np.isnan(weekly[2]).all()
