"""Chamber trials in a fit: shares of the field's equations, and what they add to picks."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from phenocast.calibration.cultivar.estimator import CultivarCalibrator
from phenocast.calibration.cultivar.parameters import CULTIVAR
from phenocast.calibration.cultivar.records import Chambers, expected_share, unused_trials
from phenocast.errors import InputError
from phenocast.io import read_chamber_trials, template
from phenocast.parameters import cultivars
from tests.benchmarks import synthetic_truth as case_of


@pytest.fixture(scope="module")
def trial():
    return case_of.trial_of(2, years=(2020, 2021), planted=((9, 10),))


def chamber_of(trial, truth):
    """Twelve plants in each of many treatments, their counts drawn from the truth."""
    rng = np.random.default_rng(2)
    parts = []
    for name in sorted({block.cultivar for block in trial.blocks}):
        block = next(one for one in trial.blocks if one.cultivar == name)
        grid = [(t, p, d) for t in (15.0, 18.0, 24.0) for p in (10.0, 13.0, 15.0)
                for d in (14.0, 21.0, 28.0)]  # fmt: skip
        own = pd.DataFrame(grid, columns=["temperature_c", "photoperiod_h", "days"])
        own = own.assign(cultivar=name, plants=12, row=range(2, 2 + len(grid)))
        values = {
            n.name: n.prior.value + n.prior.sd * truth[i]
            for i, n in enumerate(trial.layout.entries)
            if n.group == CULTIVAR and n.owner == name
        }
        share = expected_share(block.cultivar_set, own, values)
        parts.append(own.assign(flowering=rng.binomial(12, share)))
    return pd.concat(parts, ignore_index=True)


@pytest.fixture(scope="module")
def case(trial):
    rng = np.random.default_rng(9)
    truth = case_of.true_vector(trial, rng)
    rows = case_of.weekly_rows(trial)
    y = case_of.picked(case_of.expected(trial, rows, truth), rng)
    return truth, rows, y, chamber_of(trial, truth)


def test_chambers_tell_induction_that_picks_hardly_tell(trial, case):
    truth, rows, y, chamber = case
    make = {"select": False, "seeds": ()}
    without = CultivarCalibrator(trial.blocks, **make).fit(rows, y).values()
    found = CultivarCalibrator(trial.blocks, chambers=chamber, **make).fit(rows, y).values()
    place = {(one.owner, one.name): i for i, one in enumerate(trial.layout.entries)}
    # picks tell the photoperiod of one of the two cultivars well: chambers then add little
    for name, share in (("induction_requirement", 0.6), ("critical_photoperiod_18", 0.8)):
        mine, theirs = (one[one["name"] == name] for one in (found, without))
        assert (mine["contraction"].to_numpy() < share * theirs["contraction"].to_numpy()).all()
        for row in mine.itertuples(name="Row"):
            error = (row.value - row.prior) / row.prior_sd - truth[place[row.owner, row.name]]
            assert abs(error) < 3.0 * row.contraction


def test_the_slope_is_that_of_the_likelihood(trial, case):
    truth, _, _, chamber = case
    sets = {block.cultivar: block.cultivar_set for block in trial.blocks}
    chambers = Chambers(chamber, sets, trial.layout)
    for one in chambers.terms(truth):
        for k, entry in enumerate(one.entries):
            step = np.zeros(len(truth))
            step[entry] = 1e-3
            up, down = (chambers.log_likelihood(truth + s) for s in (step, -step))
            assert one.slope[k] == pytest.approx((up - down) / 2e-3, rel=0.05, abs=0.05)


def test_long_days_promote_a_day_neutral_cultivar():
    trials = pd.DataFrame({"temperature_c": [26.0, 26.0], "photoperiod_h": [10.0, 16.0],
                           "days": [28.0, 28.0]})  # fmt: skip
    short, long = expected_share(cultivars()["Tuff"], trials, {})
    assert long > short


def test_trials_of_a_cultivar_without_records_are_told(case):
    chamber = case[3].assign(cultivar="Slate")
    told = unused_trials(chamber, ["S01"])
    assert len(told) == 1
    assert "Slate" in told[0]
    assert "rows 2, 3" in told[0]


def test_the_template_is_read_as_it_stands(tmp_path):
    place = tmp_path / "chamber.csv"
    place.write_text(template("chamber"))
    assert read_chamber_trials(place, ["Basalt"])["flowering"].tolist() == [5.0, 12.0, 2.0]


@pytest.mark.parametrize(
    ("row", "words"),
    [
        ("Basal,18,10,14,12,5,", ["row 2", "Basalt"]),
        ("Basalt,18,10,14,12,15,", ["row 2", "more flowered than there were", "at most 12"]),
        ("Basalt,18,10,14,12,,", ["row 2", "not one of a number and a percentage"]),
        ("Basalt,18,10,14,12,,81", ["row 2", "no whole number of plants"]),
        ("Basalt,18,25,14,12,5,", ["row", "photoperiod_h", "0 to 24"]),
    ],
)
def test_bad_trials_are_refused_with_their_rows(tmp_path, row, words):
    place = tmp_path / "chamber.csv"
    head = "cultivar,temperature_c,photoperiod_h,days,plants,flowering,flowering_pct"
    place.write_text(f"{head}\n{row}\n")
    with pytest.raises(InputError) as caught:
        read_chamber_trials(place, ["Basalt", "Marl"])
    for word in words:
        assert word in str(caught.value)
