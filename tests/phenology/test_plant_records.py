import numpy as np
import pytest

from phenocast.errors import InputError
from phenocast.parameters import ParameterSet, cultivars, packs, transplants
from phenocast.phenology import PLANT_FIELDS, plant_records

BASALT, PLUG = cultivars()["Basalt"], transplants()["plug"]


def test_central_values_by_name():
    plant = plant_records(BASALT, transplants()["cold-stored"])[0]
    assert plant.dtype.names == PLANT_FIELDS
    assert plant.induction_optimum == BASALT.value("induction_optimum")
    assert plant.truss_progress == transplants()["cold-stored"].value("truss_progress")
    assert plant.long_day_promoted == 0.0
    assert plant_records(cultivars()["Tuff"], PLUG)[0].long_day_promoted == 1.0


def test_draws_are_repeatable_bounded_and_leave_fixed_numbers_alone():
    one, two = (plant_records(BASALT, PLUG, n_draws=300, seed=7) for _ in range(2))
    other = plant_records(BASALT, PLUG, n_draws=300, seed=8)
    assert np.array_equal(one, two)
    assert not np.array_equal(one, other)
    wanted = BASALT["induction_requirement"]
    assert one.induction_requirement.min() >= wanted.lower
    assert one.induction_requirement.max() <= wanted.upper
    assert one.induction_requirement.std() == pytest.approx(wanted.sd, rel=0.15)
    assert np.all(one.emergence_share == BASALT.value("emergence_share"))


def test_every_draw_keeps_cardinal_temperatures_in_order():
    for cultivar in cultivars().values():
        for transplant in transplants().values():
            plant_records(cultivar, transplant, n_draws=2000, seed=1)


def test_heat_sensitivity_is_one_by_default():
    assert all(c.value("heat_sensitivity") == 1.0 for c in cultivars().values())


def test_a_missing_number_is_named():
    lacking = ParameterSet(
        "Slate", {k: v for k, v in BASALT.items() if k != "phyllochron"}, BASALT.labels
    )
    with pytest.raises(InputError, match="phyllochron"):
        plant_records(lacking, PLUG)


def test_an_unknown_flowering_type_is_named():
    odd = ParameterSet("Slate", dict(BASALT.items()), {"flowering": "day-neutrall"})
    with pytest.raises(InputError, match="did you mean 'day-neutral'"):
        plant_records(odd, PLUG)


def test_temperatures_out_of_order_are_refused():
    with pytest.raises(InputError, match="induction_optimum is not below induction_ceiling"):
        plant_records(BASALT.with_values({"induction_ceiling": 16.0}), PLUG)


def test_shares_of_the_ranks_add_to_one():
    for cultivar in cultivars().values():
        total = sum(cultivar.value(f"rank{r}_share") for r in (1, 2, 3))
        assert total == pytest.approx(1.0, abs=1e-9)
        mean = sum(
            cultivar.value(f"rank{r}_share") * cultivar.value(f"rank{r}_mass") for r in (1, 2, 3)
        )
        assert mean == pytest.approx(1.0, abs=0.01)


def test_packs_hold_a_plausible_mass():
    assert packs()
    assert all(1.0 < pack.value("net_mass_kg") < 6.0 for pack in packs().values())
