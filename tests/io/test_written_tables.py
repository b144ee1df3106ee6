"""Exported tables and messages: no text of the user runs in a spreadsheet or steers a terminal."""

from __future__ import annotations

import pandas as pd
import pytest
from click.testing import CliRunner

from phenocast.cli.group import cli
from phenocast.io import write_table

FORMULAS = ['=HYPERLINK("x")', "+1+1", "-2+3", "@SUM(A1)", "\t=1"]
NAMES = [*FORMULAS, "North", "East - 2", "a\x1b[31mb", "nul\x00", "two\nlines", "\x9bC1"]


@pytest.fixture
def frame():
    return pd.DataFrame({"block": NAMES, "air_c": [-float(i) for i in range(len(NAMES))]})


def test_cells_of_csv_are_no_formulas_and_numbers_stay_numbers(tmp_path, frame):
    place = write_table(frame, tmp_path / "a.csv")
    back = pd.read_csv(place, quotechar='"')
    assert back["block"].tolist() == [
        "'=HYPERLINK(\"x\")", "'+1+1", "'-2+3", "'@SUM(A1)", "' =1",
        "North", "East - 2", "a?[31mb", "nul?", "two lines", "?C1",
    ]  # fmt: skip
    assert back["air_c"].tolist() == frame["air_c"].tolist()
    assert frame["block"].tolist() == NAMES  # the caller's table is left as it is


def test_parquet_keeps_texts_but_for_control_characters(tmp_path, frame):
    back = pd.read_parquet(write_table(frame, tmp_path / "a.parquet"))
    assert back["block"].tolist()[:4] == FORMULAS[:4]
    assert back["block"].tolist()[7:9] == ["a?[31mb", "nul?"]


@pytest.mark.parametrize("category", [True, False])
def test_a_column_of_categories_is_held_to_the_same(tmp_path, category):
    frame = pd.DataFrame({"block": ["=1", "b", "=1"]})
    if category:
        frame["block"] = frame["block"].astype("category")
    assert write_table(frame, tmp_path / "a.csv").read_text() == "block\n'=1\nb\n'=1\n"


@pytest.mark.parametrize("arguments", [["check", "no\x1b[31m.toml"], ["che\x1b[2Jck"]])
def test_a_message_about_an_odd_name_steers_no_terminal(arguments):
    done = CliRunner().invoke(cli, arguments)
    assert done.exit_code in (2, 3)
    assert "?[" in done.stderr
    assert "\x1b" not in done.stderr
