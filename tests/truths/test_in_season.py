"""What records and past seasons are worth on plants that are not this engine's.

Bars are held on the rows that ``python -m tests.truths.in_season`` left for two seeds a world; a
slow test makes some of them anew. What falls short of what is wanted is said where it is held.
"""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from tests.truths.in_season import crps, scored

ROWS = Path(__file__).with_name("in_season_rows.csv.gz")
WORLDS = ("A", "B", "own")


@pytest.fixture(scope="module")
def rows() -> pd.DataFrame:
    return pd.read_csv(ROWS)


def wape(table: pd.DataFrame, column: str = "p50") -> float:
    return float((table[column] - table["truth"]).abs().sum() / table["truth"].sum())


def holds(table: pd.DataFrame) -> float:
    return float(((table["p10"] <= table["truth"]) & (table["truth"] <= table["p90"])).mean())


def picked(rows: pd.DataFrame, world: str, *what: str) -> pd.DataFrame:
    """Rows after three picks."""
    own = rows[(rows["world"] == world) & (rows["stage"] == "picked") & (rows["picks"] >= 3)]
    return own[own["what"].isin(what)]


def test_the_score_by_hand() -> None:
    """Members 1 and 3 about 2: mean distance 1, half of the mean distance of two members .5."""
    assert crps(np.array([1.0, 3.0]), 2.0) == pytest.approx(0.5)


@pytest.mark.parametrize("world", WORLDS)
@pytest.mark.parametrize(
    ("what", "most"),
    [(("week 2",), 0.40), (("week 3", "week 4"), 0.30), (("two weeks",), 0.33),
     (("four weeks",), 0.27)],
)  # fmt: skip
def test_fruit_ahead_after_three_picks(rows, world, what, most) -> None:
    found = picked(rows, world, *what)
    assert wape(found) <= most
    # no rule without a model, and no forecast without records, comes as near
    rules = ("none_p50", "days_p50", "calendar_p50", "scaled_p50", "mean_p50")
    assert wape(found) < min(wape(found, rule) for rule in rules)


@pytest.mark.parametrize(("world", "part"), [("A", 0.55), ("B", 0.55), ("own", 0.75)])
def test_four_weeks_are_surer_than_without_records(rows, world, part) -> None:
    found = picked(rows, world, "four weeks")
    assert found["crps"].mean() <= part * found["none_crps"].mean()
    of_season = found.groupby(["seed", "year"])[["crps", "none_crps"]].mean()
    assert (of_season["crps"] < of_season["none_crps"]).all()


@pytest.mark.parametrize("world", WORLDS)
def test_intervals_of_fruit_hold(rows, world) -> None:
    """80 % should hold 72 to 92 %; weeks 3 and 4 of B are wider by a point."""
    for what in (("week 2",), ("week 3", "week 4"), ("two weeks",), ("four weeks",)):
        assert 0.69 <= holds(picked(rows, world, *what)) <= 0.94


@pytest.mark.parametrize("world", WORLDS)
def test_weekly_fruit_at_planting(rows, world) -> None:
    found = rows[(rows["world"] == world) & (rows["what"] == "week of season")]
    assert wape(found) <= wape(found, "calendar_p50") - 0.02
    assert wape(found) <= wape(found, "days_p50") + 0.01


@pytest.mark.parametrize(("world", "beyond"), [("A", 0.3), ("B", 0.5), ("own", 0.9)])
def test_first_pick_at_planting(rows, world, beyond) -> None:
    """Days from planting are hard to beat: in B .3 d better is wanted, and not reached."""
    found = rows[(rows["world"] == world) & (rows["stage"] == "planting")
                 & (rows["what"] == "first pick")]  # fmt: skip
    error = (found["p50"] - found["truth"]).abs().mean()
    assert error <= (found["days_p50"] - found["truth"]).abs().mean() + beyond
    assert error <= (found["calendar_p50"] - found["truth"]).abs().mean() - 1.0


@pytest.mark.parametrize("world", WORLDS)
def test_first_pick_after_bloom(rows, world) -> None:
    """At most 15 % above past lags; 20 % below no records is reached in B, 19 % in A, 0 in own."""
    found = rows[(rows["world"] == world) & (rows["stage"] == "bloom")
                 & (rows["what"] == "first pick")]  # fmt: skip
    assert found["crps"].mean() <= 1.15 * found["lag_crps_p50"].mean()
    assert found["crps"].mean() <= 1.02 * found["none_crps"].mean()
    assert 0.75 <= holds(found) <= 0.97
    assert (found["p90"] - found["p10"]).mean() <= 15.0


@pytest.mark.slow
def test_a_world_made_anew_gives_the_rows_that_are_kept(rows, tmp_path) -> None:
    made = scored("A", 1, tmp_path, leads=2)
    kept = rows[(rows["world"] == "A") & (rows["seed"] == 1)]
    keys = ["year", "block", "issue", "what"]
    made = made.assign(issue=made["issue"].astype(str))
    both = made.drop_duplicates(keys, keep=False).merge(kept, on=keys, suffixes=("", "_kept"))
    assert len(both) >= 18
    apart = (both["p50"] - both["p50_kept"]).abs()
    assert apart.mean() <= 0.02 * both["truth"].mean()
