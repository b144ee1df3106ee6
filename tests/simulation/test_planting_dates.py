"""Many planting dates from a few bed runs agree with running each date by itself."""

from datetime import date

import numpy as np
import pytest

from phenocast.harvest import grow
from phenocast.phenology import plant_records
from phenocast.phenology.daily import CROWN_HEAT_30, INDUCTION_RESPONSE
from phenocast.simulation import bed_season, simulate_block
from phenocast.simulation.node_weights import counted_days, mix_nodes, node_weights
from phenocast.simulation.option_dates import date_covers
from phenocast.simulation.planting_dates import (
    daily_of_planting,
    node_beds,
    node_induction,
    span_bed,
)
from phenocast.simulation.responses import induction_tables, tables_in_lanes
from phenocast.simulation.setup import physics_records
from phenocast.vector import side_by_side
from phenocast.weather import HourlyWeather

from .conftest import a_setup

FIRST, LAST = date(2025, 9, 20), date(2025, 11, 1)


@pytest.mark.parametrize("film", ["black", "white-on-black", "metallised-striped"])
@pytest.mark.parametrize("planting", [date(2025, 9, 20), date(2025, 10, 12), date(2025, 11, 1)])
@pytest.mark.parametrize("transplant", ["bare-root", "plug"])
def test_a_date_read_between_covers_is_the_date_run_by_itself(
    miami: HourlyWeather, film: str, planting: date, transplant: str
) -> None:
    setup = a_setup(film, planting=planting, transplant=transplant)
    alone = simulate_block(setup, miami)
    cultivar = setup.cultivar
    table = induction_tables(
        *(
            np.array([cultivar.value(name)])
            for name in ("induction_base", "induction_optimum", "induction_ceiling")
        )
    )[0]
    own = bed_season(setup, miami)
    cover = own.cover[own.days.hours()].reshape(-1, 24).mean(axis=1)
    weights = node_weights(cover, 8)
    assert weights.sum(axis=0) == pytest.approx(1.0, abs=1e-12)
    bed = span_bed(setup, miami, FIRST)
    offset = (planting - FIRST).days
    counted = counted_days([(offset, weights)], bed.days.n_days)
    nodes = node_beds(bed, LAST, physics_records(setup)[0], counted)
    induction = node_induction(nodes, tables_in_lanes(table[np.newaxis]))[0]
    daily = daily_of_planting(nodes, planting, cover, weights)
    mixed = side_by_side(daily.shape[1])
    mix_nodes(induction, weights, nodes.newer_share(planting), offset, mixed)
    daily[INDUCTION_RESPONSE] = mixed[:, 0]
    read = grow(daily, plant_records(cultivar, setup.transplant)[0])
    # Trial work of the same scheme met 0.17 d, 0.7 % of season and 1.4 % of early fruit; soil
    # memory at the switch of sprinkling and cover is the rest.
    assert read.first_pick == pytest.approx(alone.plant.first_pick, abs=0.35)
    assert read.marketable_g.sum() == pytest.approx(alone.plant.marketable_g.sum(), rel=0.015)
    heat_alone = alone.daily[CROWN_HEAT_30].sum()
    assert daily[CROWN_HEAT_30].sum() == pytest.approx(heat_alone, rel=0.06, abs=8.0)


def test_a_node_is_run_as_far_as_it_counts_and_no_further(miami: HourlyWeather) -> None:
    setup = a_setup("metallised", planting=FIRST)
    bed = span_bed(setup, miami, FIRST)
    record = physics_records(setup)[0]
    covers = date_covers(bed, [FIRST, LAST])
    whole = node_beds(bed, LAST, record)
    nodes = node_beds(bed, LAST, record, covers.counted)
    assert 0 < covers.counted[0, 1] < covers.counted[1, 1] <= bed.days.n_days
    for node, (_, stop) in enumerate(covers.counted):
        assert np.array_equal(nodes.daily[:, node, :, :stop], whole.daily[:, node, :, :stop], True)
        assert np.isnan(nodes.daily[:, node, :, stop:]).all()
    for planting, cover, weights in zip(
        covers.plantings, covers.covers, covers.weights, strict=True
    ):
        of_date = daily_of_planting(nodes, planting, cover, weights)
        assert np.array_equal(of_date, daily_of_planting(whole, planting, cover, weights), True)
