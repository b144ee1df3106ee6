from __future__ import annotations

import itertools

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from phenocast.errors import InputError
from phenocast.trials import (
    analyse_blocks,
    analyse_split_plots,
    block_plots,
    differences,
    split_plots,
    what_differs,
)

FILMS = ("black", "silver", "white")
CULTIVARS = ("Basalt", "Marl", "Gneiss")


def trial(seed=1, blocks=4, film=(0, 0, 0), cultivar=(0, 0, 0), both=None, whole_sd=2.0, sd=1.0):
    rng = np.random.default_rng(seed)
    rows = []
    for block in range(blocks):
        shift = rng.normal(0, 3)
        for i, f in enumerate(FILMS):
            bed = rng.normal(0, whole_sd)
            for j, c in enumerate(CULTIVARS):
                extra = 0.0 if both is None else both[i][j]
                y = 100 + shift + bed + film[i] + cultivar[j] + extra + rng.normal(0, sd)
                rows.append((f"b{block}", f, c, y))
    return pd.DataFrame(rows, columns=["block", "film", "cultivar", "yield"])


def analysed(records, **options):
    return analyse_split_plots(split_plots(records, "yield", **options))


def test_rows_in_any_order_give_the_same_analysis():
    records = trial(film=(0, 4, 1))
    shuffled = records.sample(frac=1, random_state=3)
    one, other = analysed(records), analysed(shuffled)
    for line in one.table:
        assert other.source(line.name).ss == pytest.approx(line.ss)


def test_film_without_effect_is_found_to_differ_as_often_as_stated():
    # beds of one film differ (sd 2) more than plots within a bed (sd 1); 400 trials, 5 % level
    p = np.array([analysed(trial(seed)).source("film").p for seed in range(400)])
    assert 0.02 < np.mean(p < 0.05) < 0.085  # binomial, 3 standard errors
    # the sub-plot error in its place would have cried wolf in most of them
    wrong = []
    for seed in range(100):
        result = analysed(trial(seed))
        line, error = result.source("film"), result.source("sub-plot error")
        wrong.append(stats.f.sf(line.ms / error.ms, line.df, error.df) < 0.05)
    assert np.mean(wrong) > 0.5


def test_intervals_hold_all_true_differences_together():
    truth = {"black": 0, "silver": 5, "white": 2, "Basalt": 0, "Marl": 1, "Gneiss": -3}
    results = [
        analysed(trial(seed + 1000, film=(0, 5, 2), cultivar=(0, 1, -3))) for seed in range(60)
    ]
    held = [
        all(
            d.lower <= truth[d.first] - truth[d.second] <= d.upper
            for d in differences(result, kind, level=0.8)
        )
        for result in results
        for kind in ("whole", "sub")
    ]
    assert np.mean(held) == pytest.approx(0.8, abs=0.11)  # 3 standard errors of 120 cases


def test_components_are_unbiased():
    found = [analysed(trial(seed, whole_sd=2.0, sd=1.0)).components for seed in range(300)]
    assert np.mean([v.whole_plot for v in found]) == pytest.approx(4.0, abs=0.4)
    assert np.mean([v.sub_plot for v in found]) == pytest.approx(1.0, abs=0.06)


def test_two_levels_are_a_t_test():
    records = trial()
    records = records[records["film"] != "white"]
    result = analysed(records)
    (pair,) = differences(result, "whole", level=0.95)
    assert pair.p == pytest.approx(result.source("film").p, rel=1e-3)
    reach = stats.t.ppf(0.975, pair.df) * pair.standard_error
    assert pair.upper - pair.estimate == pytest.approx(reach, rel=1e-4)


def test_effect_that_depends_on_the_cultivar_is_told_by_cultivar():
    both = [[0, 0, 0], [12, 0, 0], [0, 0, 0]]
    lines = what_differs(analysed(trial(both=both)))
    assert "the effect of film depends on cultivar: compared at each level" in lines
    assert any(line.startswith("silver more than black (Basalt) by") for line in lines)
    assert any("black and silver (Marl) not told apart" in line for line in lines)


def test_effect_of_both_is_told_by_means():
    lines = what_differs(analysed(trial(film=(0, 20, 0), cultivar=(0, 0, 6))))
    assert any(line.startswith("silver more than black by") for line in lines)
    assert any(line.startswith("Gneiss more than Basalt by") for line in lines)
    assert any(line.startswith("black and white not told apart: difference") for line in lines)


def test_one_plot_more_or_less_changes_little():
    records = trial(film=(0, 6, 2), cultivar=(0, 2, 4))
    whole, gap = analysed(records), analysed(records.drop(index=7))
    assert (whole.method, gap.method) == ("analysis of variance", "REML")
    assert gap.cell_means == pytest.approx(whole.cell_means, abs=1.0)
    assert gap.sub_within_whole.value == pytest.approx(whole.sub_within_whole.value, rel=0.15)
    assert np.isnan(gap.source("film").ss)


def test_whole_bed_missing_costs_a_film_degree_of_freedom():
    records = trial()
    result = analysed(records[~((records["block"] == "b2") & (records["film"] == "silver"))])
    assert result.source("film").error_df == 5
    assert result.source("cultivar").error_df == 16


def test_beds_that_do_not_differ_are_said_to_be_at_the_bound():
    for seed in itertools.count():
        records = trial(seed, whole_sd=0.0)
        if analysed(records).components.whole_plot < -0.1:
            break
    assert any("below 0" in note for note in analysed(records).notes)
    gap = analysed(records.drop(index=0))
    assert gap.components.whole_plot >= 0
    assert any("at its bound of 0" in note for note in gap.notes)


def test_empty_cell_of_the_response_is_a_missing_plot():
    records = trial()
    records["yield"] = records["yield"].astype(object)
    records.loc[4, "yield"] = None
    assert analysed(records).method == "REML"


def test_picks_of_a_plot_are_no_replicates():
    records = pd.concat([trial(1), trial(2)])
    with pytest.raises(InputError, match="2 records of one plot"):
        split_plots(records, "yield")
    plots = split_plots(records, "yield", subsamples="mean")
    assert np.shape(plots.values) == (4, 3, 3)
    assert "averaged" in plots.notes[0]
    expected = (trial(1)["yield"] + trial(2)["yield"]).to_numpy() / 2
    assert np.ravel(plots.values) == pytest.approx(expected)


def test_film_in_one_bed_only_is_refused():
    records = trial()
    alone = records[(records["film"] != "silver") | (records["block"] == "b0")]
    with pytest.raises(InputError, match=r"not replicated.*silver"):
        split_plots(alone, "yield")
    with pytest.raises(InputError, match="not replicated"):
        block_plots(alone[alone["cultivar"] == "Marl"], "yield")


@pytest.mark.parametrize(
    ("change", "text"),
    [
        (lambda r: r.rename(columns={"film": "Films"}), "no such column"),
        (lambda r: r.assign(**{"yield": ["much", *r["yield"][1:]]}), "row 1, column yield"),
        (lambda r: r.assign(film=[None, *r["film"][1:]]), "row 1: block or treatment is empty"),
        (lambda r: r.assign(film=["BLACK", *r["film"][1:]]), "differ in case only"),
        (lambda r: r[r["film"] == "black"], "fewer than two levels"),
        (lambda r: r[r["block"] == "b1"], "fewer than two levels"),
        (
            lambda r: r[(r["film"] != "white") | (r["cultivar"] != "Marl")],
            "no plot holds: white with Marl",
        ),
        (lambda r: r.assign(**{"yield": 5.0}), "same value"),
    ],
)
def test_records_that_are_no_split_plot_are_refused(change, text):
    with pytest.raises(InputError, match=text):
        analysed(change(trial()))


def test_nearest_column_is_suggested():
    with pytest.raises(InputError, match="did you mean 'yield'"):
        split_plots(trial(), "yeild")


def test_too_few_plots_for_both_errors():
    records = trial(blocks=2)
    keep = records[~((records["block"] == "b1") & (records["cultivar"] != "Basalt"))]
    keep = keep[~((keep["block"] == "b1") & (keep["film"] == "white"))]
    with pytest.raises(InputError):
        analysed(keep)


def test_one_factor_trial_needs_its_plots():
    records = trial()
    marl = records[records["cultivar"] == "Marl"]
    assert analyse_blocks(block_plots(marl, "yield")).table[1].df == 2
    with pytest.raises(InputError, match="a plot is missing"):
        block_plots(marl.drop(index=marl.index[3]), "yield")


def test_unknown_kind_and_level_are_refused():
    result = analysed(trial())
    with pytest.raises(InputError, match="unknown kind"):
        differences(result, "film")
    with pytest.raises(InputError, match="level"):
        what_differs(result, level=1.0)
