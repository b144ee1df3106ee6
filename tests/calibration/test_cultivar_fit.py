"""Fits of cultivars: truth found again, refusals, pooling, steps kept, and the estimator's manners.

The records are simulated (see tests/benchmarks/synthetic_truth.py, which runs the full case): they
test the fitting and say nothing about the model.
"""

from __future__ import annotations

import json
from copy import copy
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from sklearn.base import clone
from sklearn.exceptions import NotFittedError
from sklearn.model_selection import GridSearchCV, LeaveOneGroupOut, cross_val_score

from phenocast.calibration.cultivar.diagnostics import directions, heat_in_the_data, verdict
from phenocast.calibration.cultivar.document import draws_table, fitted_cultivars
from phenocast.calibration.cultivar.estimator import CultivarCalibrator
from phenocast.calibration.cultivar.likelihood import Scatter, record_terms
from phenocast.calibration.cultivar.model import FIRST_PICKED, MARKETABLE
from phenocast.calibration.cultivar.optimise import Problem, prior_precision
from phenocast.calibration.cultivar.parameters import CARRIED, CULTIVAR
from phenocast.calibration.cultivar.pooling import fitted_spreads, spread_parameters
from phenocast.calibration.cultivar.selection import Checkpoint, scatter_from, scatter_plain
from phenocast.errors import InputError
from phenocast.io.output.fit_folder import write_fit_files
from phenocast.io.output.folder import OutputFolder
from phenocast.io.season_file import read_cultivars
from phenocast.parameters import FIELD_SPREADS
from tests.benchmarks import synthetic_truth as truth_of

SEED = 4


PAST = pd.DataFrame(
    {"season": ["2024"], "block": ["A"], "cultivar": ["Marl"], "film": ["black"],
     "transplant": ["plug"], "planting_date": [pd.Timestamp("2024-09-20")],
     "kind": ["first flower"], "start_d": [30.0], "stop_d": [37.0], "value": [37.0],
     "left_out_expected": [35.0]}
)  # fmt: skip


@pytest.fixture(scope="module")
def trial():
    """Three cultivars in three seasons on two films, two planting dates."""
    return truth_of.trial_of(3, years=(2020, 2021, 2022))


@pytest.fixture(scope="module")
def case(trial):
    """Truth, rows and records of the trial."""
    rng = np.random.default_rng(SEED)
    truth = truth_of.true_vector(trial, rng)
    rows = truth_of.weekly_rows(trial)
    return truth, rows, truth_of.picked(truth_of.expected(trial, rows, truth), rng)


@pytest.fixture(scope="module")
def fitted(trial, case):
    _, rows, y = case
    return CultivarCalibrator(trial.blocks, select=False, seeds=(1,)).fit(rows, y)


def test_a_fit_finds_the_truth_within_its_intervals(trial, case, fitted):
    truth, _, _ = case
    place = {(one.owner, one.name): i for i, one in enumerate(trial.layout.entries)}
    values = fitted.values()
    error = np.array(
        [
            (row.value - row.prior) / row.prior_sd - truth[place[row.owner, row.name]]
            for row in values.itertuples(name="Row")
        ]
    )
    z = error / values["contraction"].to_numpy()
    assert np.mean(np.abs(z) < 1.645) >= 0.75  # 90 % are meant; 20 numbers of one case scatter
    assert np.abs(z).max() < 4.0
    timing = values["name"].isin(["initiation_to_anthesis", "anthesis_to_ripe"])
    assert (values.loc[timing, "contraction"] < 0.8).all()


def test_the_starts_agree_and_the_search_converged(fitted):
    assert fitted.converged_
    assert fitted.starts_agree_
    assert fitted.starts_[0]["seed"] is None


def test_numbers_stay_inside_their_bounds(fitted):
    values = fitted.values()
    assert (values["value"] >= values["lower"]).all()
    assert (values["value"] <= values["upper"]).all()
    drawn = draws_table(fitted, 200, 0, fitted_spreads(fitted))
    for name in ("heat_sensitivity", "initiation_to_anthesis"):
        own = values[values["name"] == name].iloc[0]
        assert drawn[name].between(own["lower"], own["upper"]).all()


@pytest.fixture(scope="module")
def pressed(fitted):
    """The fit with every second number of the cultivars pressed against one of its bounds."""
    found = copy(fitted)
    found.vector_ = fitted.vector_.copy()
    for turn, i in enumerate(found.layout_.where(CULTIVAR)):
        if turn % 2 == 0:
            bound = found.problem_.low if turn % 4 else found.problem_.high
            found.vector_[i] = bound[i]
    return found


def test_the_value_of_a_number_on_its_bound_is_the_median_of_its_draws(pressed):
    values = pressed.values()
    bound = values[values["at_bound"] & (values["group"] == "cultivar")]
    assert len(bound) >= 6
    for interval in ("interval_80", "interval_95"):
        assert (values[interval].str[0] <= values["value"]).all()
        assert (values["value"] <= values[interval].str[1]).all()
    drawn = draws_table(pressed, 4000, 0, fitted_spreads(pressed))
    for row in bound.itertuples(name="Row"):
        own = drawn.loc[drawn["cultivar"] == row.owner, row.name]
        assert row.lower < row.value < row.upper
        assert own.between(row.lower, row.upper).all()
        width = row.interval_80[1] - row.interval_80[0]
        assert own.median() == pytest.approx(row.value, abs=0.06 * width)
        assert own.quantile([0.1, 0.9]).tolist() == pytest.approx(row.interval_80, abs=0.1 * width)


def test_a_fit_with_numbers_on_their_bounds_is_read_back(pressed, trial, tmp_path):
    spreads = fitted_spreads(pressed)
    drawn = draws_table(pressed, 400, 0, spreads)
    # the last digits of a draw that lies on a bound, and of a spread at the end of its grid
    edge = [replace(one, weights=np.eye(len(one.weights))[0]) for one in spreads]
    limits = spread_parameters(edge, "a test", "own records")
    assert all((one.draws(50, 1) >= limits[one.name].lower).all() for one in edge)
    for i in pressed.layout_.where(CULTIVAR):
        one = pressed.layout_.entries[i]
        on_bound = one.in_unit([one.low, one.high]).tolist()
        assert on_bound == [one.prior.lower, one.prior.upper]
    with OutputFolder(tmp_path / "fit") as folder:
        write_fit_files(
            folder, draws=drawn, used=pd.DataFrame({"row": [1]}),
            past=PAST,
            cultivars=fitted_cultivars(pressed, trial.blocks, "a test", spreads),
        )  # fmt: skip
    read = read_cultivars(tmp_path / "fit" / "cultivars.toml")
    for name, own in read.items():
        stated = drawn[drawn["cultivar"] == name]
        assert own.joint["heat_sensitivity"].tolist() == stated["heat_sensitivity"].tolist()


def test_draws_have_the_spread_and_the_correlation_of_the_fit(fitted):
    drawn = draws_table(fitted, 4000, 0, fitted_spreads(fitted))
    name = sorted(set(drawn["cultivar"]))[0]
    own = drawn[drawn["cultivar"] == name]
    values = fitted.values()
    values = values[values["owner"] == name].set_index("name")
    pair = ["initiation_to_anthesis", "anthesis_to_ripe"]
    for one in pair:
        assert own[one].std() == pytest.approx(values.loc[one, "sd"], rel=0.06)
    at = [int(values.loc[one, "entry"]) for one in pair]
    block = fitted.covariance_[np.ix_(at, at)]
    stated = block[0, 1] / np.sqrt(block[0, 0] * block[1, 1])
    assert np.corrcoef(own[pair[0]], own[pair[1]])[0, 1] == pytest.approx(stated, abs=0.06)


def test_the_slope_of_the_cost_is_that_of_its_differences(trial, case):
    truth, rows, y = case
    _, kind, start, _ = truth_of.columns_of(rows)
    problem = Problem(truth_of.runs_of(trial, rows), kind, start, y, Scatter())
    here = problem.point(truth)
    for i in (0, 4, len(truth) - 1):
        step = np.zeros(len(truth))
        step[i] = 0.05
        by_difference = (problem.cost(truth + step) - problem.cost(truth - step)) / 0.1
        by_slope = (problem.prior @ truth - here.gradient)[i]
        assert by_slope == pytest.approx(by_difference, rel=0.25, abs=0.5)


def test_quasi_likelihood_has_the_slope_it_claims():
    kind, start = np.zeros(3, dtype=np.int64), np.zeros(3)
    observed, mean = np.array([0.0, 4.0, 60.0]), np.array([0.5, 6.0, 40.0])
    for scatter in (Scatter(), Scatter(student_df=4.0)):
        here = record_terms(kind, start, observed, mean, scatter)
        up = record_terms(kind, start, observed, mean + 1e-5, scatter)
        down = record_terms(kind, start, observed, mean - 1e-5, scatter)
        by_difference = (up.log_likelihood - down.log_likelihood) / 2e-5
        assert here.slope == pytest.approx(by_difference, rel=1e-5)
        assert (here.information > 0.0).all()


def test_a_prior_keeps_its_spread_however_alike_cultivars_are(trial):
    for rho in (0.0, 0.5, 0.9):
        precision = prior_precision(trial.layout, Scatter(alike={"phyllochron": rho}))
        spread = np.linalg.inv(precision)
        at = trial.layout.where(CULTIVAR, names=("phyllochron",))
        assert np.diag(spread)[at] == pytest.approx(1.0)
        assert spread[at[0], at[1]] == pytest.approx(rho)


def test_first_pick_dates_of_one_film_cannot_rank(trial, case):
    truth, _, _ = case
    rng = np.random.default_rng(1)
    rows, y = truth_of.first_pick_rows(trial, truth, rng)
    black = np.array([trial.blocks[i].film == "black" for i in rows["block"]])
    fit = CultivarCalibrator(trial.blocks, select=False, seeds=()).fit(rows[black], y[black])
    found = verdict(fit, [FIRST_PICKED])
    assert not found.rankable
    assert any("dates alone" in why for why in found.why_not)
    assert any("weekly weights" in one for one in found.records_that_would_settle_it)
    heat = fit.values().query("name == 'heat_sensitivity'")
    assert (heat["contraction"] > 0.95).all()  # dates say nothing about heat
    early = fit.values().query("name == 'initiation_to_anthesis'")
    assert (early["contraction"] < 0.9).all()  # but much about timing


def test_blocks_that_are_equally_hot_cannot_rank(trial, case):
    _, rows, y = case
    late = np.array(
        [b.film == "black" and b.planting.month == 10 for b in trial.blocks]
    )[rows["block"]]  # fmt: skip
    fit = CultivarCalibrator(trial.blocks, select=False, seeds=()).fit(rows[late], y[late])
    found = verdict(fit, [MARKETABLE])
    assert not found.rankable
    assert any("one film (black)" in why for why in found.why_not)
    assert any("reflective" in one for one in found.records_that_would_settle_it)


def test_directions_are_ordered_and_the_heat_is_counted(trial, fitted):
    for one in directions(fitted):
        strengths = [d["information"] for d in one["directions"]]
        assert strengths == sorted(strengths, reverse=True)
        for d in one["directions"]:
            assert sum(v**2 for v in d["loadings"].values()) == pytest.approx(1.0)
    for one in heat_in_the_data(trial.blocks):
        assert one["degree_hours_above_30c"]["most"] > one["degree_hours_above_30c"]["least"]
        assert one["contrast"] > 0.15  # black and reflective film, early and late


def test_a_file_of_the_fit_holds_certified_numbers(trial, fitted):
    found = fitted_cultivars(fitted, trial.blocks, "records of a test", fitted_spreads(fitted))
    sets = {one.name: one for one in found}
    assert set(sets) == {block.cultivar for block in trial.blocks}
    for one in sets.values():
        heat = one["heat_sensitivity"]
        assert heat.basis == "fitted"
        assert heat.source == "own records"
        assert all(one[name].sd == 0.0 for name in CARRIED["heat_sensitivity"])
        assert one["fruit_mass_15"].source != "own records"  # no fruit was weighed


def test_the_spreads_of_the_field_are_certified_and_as_unsure_as_few_seasons_leave_them(
    trial, fitted
):
    spreads = fitted_spreads(fitted)
    assert tuple(one.name for one in spreads) == FIELD_SPREADS
    shift, level, plot = spreads
    assert (shift.units, level.units, plot.units) == (3, 3, 36)
    assert plot.middle == pytest.approx(fitted.scatter_.plot_level, rel=0.15)
    assert shift.middle == pytest.approx(fitted.scatter_.season_shift, rel=0.35)
    # 36 blocks tell their spread better than three seasons do theirs; before the records it was 0.9
    assert plot.sd / plot.middle < 0.3 < level.sd / level.middle < 0.7
    (one, *_) = fitted_cultivars(fitted, trial.blocks, "records of a test", spreads)
    for spread in spreads:
        written = one[spread.name]
        assert (written.basis, written.source) == ("fitted", "own records")
        assert (written.value, written.sd) == (spread.middle, spread.sd)
        assert f"from {spread.units} " in written.where
    drawn = draws_table(fitted, 2000, 0, spreads)
    own = [table for _, table in drawn.groupby("cultivar")]
    for spread in spreads:
        assert np.median(own[0][spread.name]) == pytest.approx(spread.middle, rel=0.02)
        assert own[0][spread.name].tolist() == own[1][spread.name].tolist()


def test_one_season_tells_no_spread_between_seasons(trial, case):
    _, rows, y = case
    own = np.array([trial.blocks[i].season == "2021" for i in rows["block"]])
    fit = CultivarCalibrator(trial.blocks, select=False, seeds=()).fit(rows[own], y[own])
    spreads = {one.name: one for one in fitted_spreads(fit)}
    shift = spreads["season_shift_sd"]
    assert not shift.told
    assert shift.middle == pytest.approx(Scatter().season_shift)
    (one, *_) = fitted_cultivars(fit, trial.blocks, "one season", tuple(spreads.values()))
    assert (one["season_shift_sd"].basis, one["plot_level_sd"].basis) == ("assumed", "fitted")


@pytest.mark.slow
def test_a_wrong_record_counts_for_less_where_asked(trial, case):
    _, rows, y = case
    wrong = y.copy()
    wrong[::40] = 400.0
    plain, robust = (
        CultivarCalibrator(trial.blocks, select=False, seeds=(), student_df=df).fit(rows, wrong)
        for df in (None, 4.0)
    )
    clean = CultivarCalibrator(trial.blocks, select=False, seeds=()).fit(rows, y)
    leaves = [
        one.values().query("name == 'phyllochron'")["value"].to_numpy()
        for one in (plain, robust, clean)
    ]
    far = [np.abs(one - leaves[2]).mean() for one in leaves[:2]]
    assert far[1] < far[0]


def test_steps_that_were_kept_are_not_done_again(trial, case):
    _, rows, y = case
    some = rows["block"].to_numpy() < 6
    kept: dict[str, dict] = {}

    class CutError(Exception):
        pass

    def keep(name, outcome):
        kept[name] = json.loads(json.dumps(outcome))
        if len(kept) == 3:
            raise CutError

    make = CultivarCalibrator(trial.blocks, seeds=(1,))
    with pytest.raises(CutError):
        clone(make).fit(rows[some], y[some], checkpoint=Checkpoint(keep=keep))
    done: list[str] = []
    again = clone(make).fit(
        rows[some], y[some], checkpoint=Checkpoint(kept, keep=lambda name, _: done.append(name))
    )
    whole = clone(make).fit(rows[some], y[some])
    assert not set(done) & set(list(kept)[:3])
    assert again.vector_.tolist() == whole.vector_.tolist()
    assert again.scatter_ == whole.scatter_


@pytest.mark.slow
def test_a_rung_stays_only_where_both_fall(trial, case):
    _, rows, y = case
    fit = CultivarCalibrator(trial.blocks, seeds=()).fit(rows, y)
    top = fit.selection_[0]
    assert top.kept
    for step in fit.selection_[1:]:
        earned = step.bic < top.bic and step.left_out_loss <= top.left_out_loss + 1e-4
        assert step.kept == earned, step.why
        top = step if step.kept else top
    assert fit.top_.name == top.name
    assert any(r.kept and "requirement" in r.name for r in fit.selection_)


def test_scatter_survives_a_file():
    scatter = replace(Scatter(), alike={"phyllochron": 0.4}, student_df=4.0)
    assert scatter_from(json.loads(json.dumps(scatter_plain(scatter)))) == scatter


def test_the_estimator_keeps_the_manners_of_its_kind(trial, case):
    _, rows, _ = case
    make = CultivarCalibrator(trial.blocks, select=False, seeds=())
    twin = clone(make)
    assert twin.get_params()["select"] is False
    assert make.set_params(pool=False).pool is False
    with pytest.raises(NotFittedError):
        make.predict(rows)


@pytest.mark.slow
def test_tools_of_scikit_learn_work_on_it(trial, case):
    _, rows, y = case
    make = CultivarCalibrator(trial.blocks, select=False, seeds=())
    seasons = np.array([trial.blocks[i].season for i in rows["block"]])
    scores = cross_val_score(make, rows, y, groups=seasons, cv=LeaveOneGroupOut())
    assert scores.shape == (3,)
    assert np.isfinite(scores).all()
    search = GridSearchCV(make, {"parameters": [("phyllochron",), truth_of.NUMBERS]},
                          cv=LeaveOneGroupOut())  # fmt: skip
    search.fit(rows, y, groups=seasons)
    assert search.best_params_["parameters"] == truth_of.NUMBERS  # one number is too few


def test_predictions_of_unseen_seasons_have_their_usual_level(trial, case, fitted):
    _, rows, _ = case
    found = fitted.predict(rows)
    assert found.shape == (len(rows),)
    frame = fitted.predict(rows.to_numpy())
    assert frame == pytest.approx(found)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (lambda x, y: (x.assign(block=99), y), "not a block"),
        (lambda x, y: (x.assign(kind=9), y), "not a kind"),
        (lambda x, y: (x.assign(stop_d=-1.0), y), "ends before"),
        (lambda x, y: (x, -y - 1.0), "below 0"),
        (lambda x, y: (x, y * np.nan), "missing"),
        (lambda x, y: (x, y[:-1]), "one value for every row"),
        (lambda x, y: (x.drop(columns="kind"), y), "column is missing"),
        (lambda x, y: (x[:0], y[:0]), "one row a record"),
    ],
)
def test_what_cannot_be_is_refused(trial, case, change, words):
    _, rows, y = case
    with pytest.raises(InputError, match=words):
        CultivarCalibrator(trial.blocks).fit(*change(rows, y))


def test_unknown_numbers_are_refused(trial, case):
    _, rows, y = case
    with pytest.raises(InputError, match="no such parameter"):
        CultivarCalibrator(trial.blocks, parameters=("heat_sensitivty",)).fit(rows, y)
    assert isinstance(rows, pd.DataFrame)
