"""``phenocast trial`` through the command line: published figures, refusals, missing plots."""

import json
import re
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from phenocast.io import template

OATS = Path(__file__).parents[1] / "published" / "data" / "yates1935_oats.csv"
KIWI = OATS.with_name("snelgar1992_kiwishade.csv")
AS_OATS = ("--response", "Y", "--whole-plot", "V", "--sub-plot", "N", "--block", "B")


def words(text):
    return " ".join(text.split())


def trial(seed=1, **changes):
    """Records of an invented trial: 4 blocks, 2 films, 3 cultivars."""
    rng = np.random.default_rng(seed)
    rows = [
        {"season": "2026", "site": "Low Quay", "replicate": b, "whole_plot": f"{b}-{f}", "film": f,
         "cultivar": c, "yield": round(400 + 30 * (f == "silver") + rng.normal(0, 15), 1)}
        for b in "1234" for f in ("black", "silver") for c in ("Basalt", "Marl", "Tuff")
    ]  # fmt: skip
    return pd.DataFrame(rows).assign(**changes)


@pytest.fixture
def written(tmp_path):
    def write(frame, name="trial.csv"):
        path = tmp_path / name
        if name.endswith("parquet"):
            frame.to_parquet(path, index=False)
        else:
            frame.to_csv(path, index=False)
        return path

    return write


@pytest.fixture
def oats(call):
    done = call("trial", OATS, *AS_OATS, "--json")
    assert done.exit_code == 0, done.stderr
    return json.loads(done.stdout)


def test_the_oats_of_yates_through_the_command(oats):
    """Tests of Yates (1935): values and origin in tests/published/test_yates1935_oats.py."""
    assert (oats["schema_version"], oats["kind"]) == (1, "trial")
    (one,) = oats["trials"]
    table = {line["source"]: line for line in one["table"]}
    for name, df, error_df, f, p in (
        ("V", 2, 10, 1.4853, 0.2724),
        ("N", 3, 45, 37.6856, 2.458e-12),
        ("V x N", 6, 45, 0.3028, 0.9322),
    ):
        assert (table[name]["df"], table[name]["error_df"]) == (df, error_df)
        assert table[name]["f"] == pytest.approx(f, abs=1e-4)
        assert table[name]["p"] == pytest.approx(p, abs=1e-4, rel=5e-4)
    assert [line["ss"] for line in one["table"]] == pytest.approx(
        [15875.278, 1786.361, 6013.306, 20020.5, 321.75, 7968.75], abs=1e-3
    )
    errors = [(e["value"], e["df"]) for e in one["standard_errors"]]
    assert [value for value, _ in errors] == pytest.approx(
        [7.0789, 4.4358, 7.6830, 9.7150], abs=1e-4
    )
    assert [df for _, df in errors] == pytest.approx([10, 45, 45, 30.23], abs=5e-3)
    parts = one["components"]
    assert [parts[k] for k in ("block", "whole_plot", "sub_plot")] == pytest.approx(
        [214.477, 106.062, 177.083], abs=1e-2
    )
    assert sum(line["residual"] ** 2 for line in one["residuals"]) == pytest.approx(7968.75)


def test_the_page_shows_what_the_document_holds(call):
    done = call("trial", OATS, *AS_OATS)
    assert done.exit_code == 0
    assert done.stderr == ""
    page = words(done.stdout)
    assert "V 2 1,786.36 893.181 1.49 0.272 whole-plot error" in page
    assert "N 3 20,020.5 6,673.5 37.69 below 0.001 sub-plot error" in page
    assert "two means of V at one or different N 9.715 30.2" in page
    assert "0.0cwt - 0.6cwt -44.0 (-55.8 to -32.2) below 0.001 yes" in page
    assert re.search(r"Victory - Golden.rain [^a-z]*\([^)]*\) [\d.]+ no", page)
    assert max(map(len, done.stdout.splitlines())) <= 100


def test_vines_of_a_plot_are_refused_with_rows_and_averaged_on_request(call, written):
    """Four vines a plot (Snelgar and others 1992) are samples; the trial has one factor more."""
    vines = pd.read_csv(KIWI).assign(side=lambda t: np.tile(["left", "left", "right", "right"], 12))
    path = written(vines)
    asked = ("trial", path, "--response", "yield", "--whole-plot", "shade", "--sub-plot", "side",
             "--block", "block", "--json")  # fmt: skip
    path = written(vines.drop(columns="plot"))
    done = call(*asked)
    assert done.exit_code == 3
    assert done.stdout == ""
    said = words(done.stderr)
    assert "trial.csv, rows 2, 3: block north, shade none, side left: 2 records of one plot" in said
    assert "no replicates" in said
    assert "--average" in said
    averaged = call(*asked, "--average")
    assert averaged.exit_code == 0
    (one,) = json.loads(averaged.stdout)["trials"]
    shade = next(line for line in one["table"] if line["source"] == "shade")
    # 22.211 on 3 and 6 df is published; 38.2 would come from taking vines for replicates
    assert (shade["df"], shade["error_df"]) == (3, 6)
    assert shade["f"] == pytest.approx(22.211, abs=1e-3)
    assert any("averaged" in note for note in one["notes"])


def test_one_bed_cut_into_replicates_is_refused_with_rows(call, written):
    cut = trial(whole_plot=lambda t: "bed " + t["film"])
    done = call("trial", written(cut), "--response", "yield")
    assert done.exit_code == 3
    assert done.stdout == ""
    said = words(done.stderr)
    assert "pseudo-replication: the one whole plot bed black (film black) is counted as 4" in said
    assert "rows 2, 3, 4, 8, 9, 10, 14, 15, 16, 20, 21, 22" in said
    assert "bed silver" in said


def test_names_of_beds_that_start_anew_in_each_block_are_understood(call, written):
    anew = trial(whole_plot=lambda t: [
        "left" if (film == "black") == (block in "13") else "right"
        for film, block in zip(t["film"], t["replicate"], strict=True)
    ])  # fmt: skip
    assert call("trial", written(anew), "--response", "yield").exit_code == 0


def test_a_film_in_one_block_only_is_refused_with_rows(call, written):
    alone = trial().query("film == 'black' or replicate == '2'")
    done = call("trial", written(alone), "--response", "yield")
    assert done.exit_code == 3
    said = words(done.stderr)
    assert "not replicated" in said
    assert "rows 8, 9, 10, column film" in said


def test_two_films_on_one_bed_and_two_beds_of_a_film_are_refused(call, written):
    mixed = trial()
    mixed.loc[4, "whole_plot"] = "1-black"  # a silver plot in the black bed of block 1
    done = call("trial", written(mixed), "--response", "yield")
    assert done.exit_code == 3
    said = words(done.stderr)
    assert "whole plot 1-black of replicate 1 holds more than one film: black, silver" in said
    assert "film silver stands on more than one whole plot of replicate 1" in said


@pytest.mark.parametrize("gone", ["rows", "cells"])
def test_missing_plots_are_answered_and_told(call, written, gone):
    table = trial()
    if gone == "rows":
        table = table.drop(index=[0, 10])
    else:
        table.loc[[0, 10], "yield"] = np.nan
    path = written(table)
    done = call("trial", path, "--response", "yield", "--json")
    assert done.exit_code == 0, done.stderr
    (one,) = json.loads(done.stdout)["trials"]
    assert (one["method"], one["plots"], one["missing_plots"]) == ("REML", 24, 2)
    assert "2 of 24 plots are missing" in one["notes"]
    film = next(line for line in one["table"] if line["source"] == "film")
    assert film["ss"] is None
    assert (film["df"], film["error_df"]) == (1, 3)
    assert film["f"] > 0
    assert len(one["residuals"]) == 22
    page = call("trial", path, "--response", "yield").stdout
    assert "adjusted for the missing plots" in page
    assert "2 of 24 plots are missing" in words(page)


def test_a_combination_that_no_plot_holds_is_refused(call, written):
    table = trial().query("not (film == 'black' and cultivar == 'Marl')")
    done = call("trial", written(table), "--response", "yield")
    assert done.exit_code == 3
    assert "black with Marl" in " ".join(done.stderr.split())


def test_seasons_are_analysed_one_by_one_and_said_so(call, written):
    both = pd.concat([trial(1), trial(2, season="2027")])
    done = call("trial", written(both), "--response", "yield", "--json")
    told = json.loads(done.stdout)
    assert [one["season"] for one in told["trials"]] == ["2026", "2027"]
    assert any("one by one" in warning for warning in told["warnings"])
    alone = json.loads(call("trial", written(trial(2)), "--response", "yield", "--json").stdout)
    assert alone["trials"][0]["table"] == told["trials"][1]["table"]
    assert alone["warnings"] == []
    page = call("trial", written(both), "--response", "yield").stdout
    assert "eason 2027, Low Quay" in page
    assert "one by one" in words(page)


def test_the_season_at_fault_is_named_among_others(call, written):
    both = pd.concat([trial(1), trial(2, season="2027").query("film == 'black'")])
    done = call("trial", written(both), "--response", "yield")
    assert done.exit_code == 3
    assert "season 2027, site Low Quay, column film: fewer than two levels" in words(done.stderr)


def test_without_season_site_and_bed_columns(call, written):
    bare = trial().drop(columns=["season", "site", "whole_plot"])
    assert call("trial", written(bare), "--response", "yield").exit_code == 0


def test_parquet_gives_the_figures_of_csv(call, written):
    table = trial(replicate=lambda t: t["replicate"].astype(float))  # as a gap would leave it
    one = call("trial", written(table, "trial.parquet"), "--response", "yield", "--json")
    other = call("trial", written(trial()), "--response", "yield", "--json")
    first, second = (json.loads(done.stdout)["trials"] for done in (one, other))
    assert first == second


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (("--response", "yeild"), "no such column (value 'yeild'"),
        (("--response", "yeild"), "did you mean 'yield'?"),
        (("--response", "yield", "--sub-plot", "cultivr"), "did you mean 'cultivar'?"),
        (("--response", "cultivar", "--sub-plot", "site"), "not a number (value 'Basalt'"),
    ],
)
def test_a_bad_column_is_named(call, written, options, said):
    done = call("trial", written(trial()), *options)
    assert done.exit_code == 3
    assert done.stdout == ""
    assert said in words(done.stderr)


def test_every_bad_cell_is_told_with_its_row(call, written):
    table = trial().astype({"yield": object})
    table.loc[3, "yield"] = "lost"
    table.loc[5, "film"] = ""
    said = words(call("trial", written(table), "--response", "yield").stderr)
    assert "trial.csv, row 5, column 'yield': not a number (value 'lost'" in said
    assert "trial.csv, row 7, column 'film': a name is missing" in said


def test_two_spellings_of_a_cultivar_are_refused(call, written):
    table = trial()
    table.loc[0, "cultivar"] = "basalt"
    done = call("trial", written(table), "--response", "yield")
    assert done.exit_code == 3
    assert "differ in case only" in " ".join(done.stderr.split())


def test_a_response_without_any_value_or_without_spread_is_refused(call, written):
    empty = call("trial", written(trial(**{"yield": np.nan})), "--response", "yield")
    assert empty.exit_code == 3
    assert "no value" in " ".join(empty.stderr.split())
    flat = call("trial", written(trial(**{"yield": 3.0})), "--response", "yield")
    assert flat.exit_code == 3
    assert "same value" in " ".join(flat.stderr.split())


@pytest.mark.parametrize(
    "options",
    [
        (),
        ("--response", "yield", "--whole-plot", "cultivar"),
        ("--response", "film"),
    ],
)
def test_a_wrong_call_is_a_usage_error(call, written, options):
    done = call("trial", written(trial()), *options)
    assert done.exit_code == 2
    assert done.stdout == ""


def test_a_file_that_is_not_there(call, tmp_path):
    done = call("trial", tmp_path / "gone.csv", "--response", "yield")
    assert done.exit_code == 3
    assert "no such file" in " ".join(done.stderr.split())


def test_codes_for_missing_are_said(call, written):
    table = trial()
    table.loc[2, "yield"] = -9999
    done = call("trial", written(table), "--response", "yield", "--json")
    told = json.loads(done.stdout)
    assert told["trials"][0]["missing_plots"] == 1
    assert any("-9999" in warning for warning in told["warnings"])


def test_the_template_is_a_trial(call, tmp_path):
    path = tmp_path / "trial.csv"
    path.write_text(template("trial"), encoding="utf-8")
    done = call("trial", path, "--response", "marketable_g_per_plant")
    assert done.exit_code == 0, done.stderr
    assert "Differences, each with its simultaneous confidence interval" in done.stdout


# ---- the layout of a trial ----------------------------------------------------------------------


def laid_out(**changes):
    """Records with every column of the layout."""
    frame = trial(planting_date="2026-10-05", transplant="bare-root")
    frame["sub_plot"] = frame.groupby("whole_plot").cumcount().add(1).astype(str)
    return frame.assign(**changes)


def test_a_whole_layout_changes_no_figure(call, written):
    bare, whole = (
        json.loads(call("trial", written(frame, name), "--response", "yield", "--json").stdout)
        for frame, name in ((trial(), "bare.csv"), (laid_out(), "whole.csv"))
    )
    assert bare["trials"][0]["table"] == whole["trials"][0]["table"]
    assert whole["warnings"] == bare["warnings"]


@pytest.mark.parametrize("name", ["trial.csv", "trial.parquet"])
def test_plots_that_were_planted_otherwise_are_told_with_their_rows(call, written, name):
    frame = laid_out()
    frame.loc[[3, 7], "planting_date"] = "2026-10-12"
    frame.loc[5, "transplant"] = "plug"
    if name.endswith("parquet"):
        frame["planting_date"] = pd.to_datetime(frame["planting_date"])
    done = call("trial", written(frame, name), "--response", "yield", "--json")
    assert done.exit_code == 0, done.stderr
    told = json.loads(done.stdout)["warnings"]
    first = 2 if name.endswith("csv") else 1
    rows = f"{3 + first}, {7 + first}"
    assert any(f"planting_date is not 2026-10-05 in rows {rows}" in one for one in told), told
    assert any(f"transplant is not bare-root in rows {5 + first}" in one for one in told)
    assert words(call("trial", written(frame, name), "--response", "yield").stdout).count(
        "is not 2026-10-05"
    )


def test_planting_dates_as_treatment_are_no_caution(call, written):
    frame = trial()
    frame["planting_date"] = frame["film"].map({"black": "2026-10-05", "silver": "2026-10-19"})
    done = call("trial", written(frame), "--response", "yield", "--whole-plot", "planting_date",
                "--json")  # fmt: skip
    assert done.exit_code == 0, done.stderr
    assert not any("planting_date" in one for one in json.loads(done.stdout)["warnings"])


def test_a_sub_plot_with_two_cultivars_is_refused_with_its_rows(call, written):
    frame = laid_out()
    frame.loc[1, "sub_plot"] = "1"
    done = call("trial", written(frame), "--response", "yield")
    assert done.exit_code == 3
    assert "sub-plot 1 holds more than one cultivar" in " ".join(done.stderr.split())
    assert "Basalt (row 2), Marl (row 3)" in words(done.stderr)


def test_a_planting_date_that_is_no_day_is_refused_with_its_row(call, written):
    frame = laid_out()
    frame.loc[4, "planting_date"] = "early October"
    done = call("trial", written(frame), "--response", "yield")
    assert done.exit_code == 3
    assert "row 6" in " ".join(done.stderr.split())
    assert "early October" in " ".join(done.stderr.split())


def test_a_planting_date_that_is_missing_is_refused_with_its_row(call, written):
    frame = laid_out()
    frame.loc[4, "planting_date"] = None
    done = call("trial", written(frame), "--response", "yield")
    assert done.exit_code == 3
    assert "row 6" in " ".join(done.stderr.split())
