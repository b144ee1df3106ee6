"""Records of the season that is forecast: what can be used is used, and the rest is told."""

from __future__ import annotations

import os
from collections.abc import Sequence
from datetime import date
from pathlib import Path

import numpy as np
import pandas as pd

from phenocast.errors import CAUTION, Gathered, cautions_first
from phenocast.io.files import reading
from phenocast.io.pick_doubts import pick_doubts
from phenocast.io.records import (
    EVENTS,
    FRUIT_LEFT,
    NONE_RIPE,
    check_words,
    hear_not_picked,
    refuse_without_unit,
    weigh_per_plant,
)
from phenocast.io.tables import read_sound_cells
from phenocast.season import Season, SeasonRecords
from phenocast.simulation.setup import block_setup
from phenocast.tables import HARVEST_RECORDS

# From planting to ripe fruit takes no less: a transplant may bring an open flower along, and no
# fruit ripens sooner after its flower however warm it is. Assumed. [d]
EARLIEST_RIPE_D = 20

WORDS = {
    "event": EVENTS,
    "not_picked": (NONE_RIPE, *FRUIT_LEFT),
    "lost_to": ("freeze", "hail", "flood", "heat", "disease", "removed"),
}

# Columns of the file and what they are called in `SeasonRecords`.
COUNTS = {
    "open_flowers_per_plant": "open_flowers",
    "green_fruit_per_plant": "green_fruit",
    "ripe_fruit_per_plant": "ripe_fruit",
}
GRAMS = {"marketable_g_per_plant": "marketable_g", "fruit_g_per_plant": "fruit_g"}
PLANTS = ("plants_seen", "plants_in_bloom", "plants_counted")

# What a visit may say; events are told apart, since one visit may see both.
_SAID = [*PLANTS, *COUNTS, *GRAMS, "not_picked", "plants_lost_pct", "first pick", "first flower"]

_NOT_USED = ("cull_g_per_plant", "fruits_per_plant", "fruit_mass_g")


class _Sieve:
    """Rows of a file; what cannot be is taken out of them and told."""

    def __init__(self, table: pd.DataFrame, left_out: Gathered) -> None:
        self.table = table
        self.left_out = left_out

    def tell(self, wrong: pd.Series, what: str, columns: Sequence[str], do: str = "") -> None:
        """Tell what is wrong in some rows, with their day and values."""
        found = self.table[wrong.reindex(self.table.index)]
        values = [
            " ".join(_in_words(one) for one in row if pd.notna(one))
            for row in found[list(columns)].to_numpy(dtype=object)
        ]
        self.left_out.add_rows(
            what, rows=found["row"].to_numpy(), values=values, column=", ".join(columns), do=do
        )

    def drop(self, wrong: pd.Series, what: str, column: str, do: str = "") -> None:
        """Leave out whole rows."""
        self.tell(wrong, what, [column], do)
        self.table = self.table[~wrong.reindex(self.table.index)]

    def empty(self, wrong: pd.Series, what: str, columns: Sequence[str], do: str = "") -> None:
        """Leave out some values of a row."""
        self.tell(wrong, what, columns, do)
        self.table.loc[wrong, list(columns)] = None


def _in_words(value: object) -> str:
    return f"{value:.6g}" if isinstance(value, float) else str(value).removesuffix(" 00:00:00")


def read_season_records(
    path: str | os.PathLike[str], season: Season, issue_date: date
) -> SeasonRecords:
    """Read what was seen in a season up to the day of issue.

    Parameters
    ----------
    path : str or path
        CSV or Parquet with the columns of `phenocast.tables.HARVEST_RECORDS`, as for a fit. Rows
        that state another season are passed over.
    season : Season
    issue_date : date
        Later rows are not used.

    Returns
    -------
    SeasonRecords
        Its warnings list what is not used, with row and value.

    Raises
    ------
    InputError
        Where the file is no table of records, or nothing in it can be used.
    """
    with reading(path, "harvest records"):
        return _read(path, season, issue_date)


def _read(path: str | os.PathLike[str], season: Season, issue_date: date) -> SeasonRecords:
    refuse_without_unit(path)
    left_out = Gathered(Path(path).name)
    rows = _Sieve(read_sound_cells(path, HARVEST_RECORDS, left_out), left_out)
    n_rows = len(rows.table)
    notes = _rows_of_the_season(rows, season, issue_date)
    _take_values(rows, season)
    notes += [
        f"{left_out.source}: {name} is not used in a forecast"
        for name in _NOT_USED
        if rows.table[name].notna().any()
    ]
    n_own = len(rows.table)
    rows.table = rows.table[rows.table[_SAID].notna().any(axis=1)]
    n_used = len(rows.table)
    if not n_used and (n_own or left_out):
        left_out.add("no row says anything that can be used")
        raise left_out.error()
    _one_row_a_visit(rows)
    _in_order(rows)
    table = rows.table
    if table[list(GRAMS)].notna().any(axis=None):
        notes = [
            *pick_doubts(table.assign(season=Path(season.source_name).stem), left_out.source),
            *notes,
        ]
    if n_used < n_rows:
        notes.append(f"{left_out.source}: {n_used} of {n_rows} rows are used")
    if left_out:
        notes += [f"{CAUTION}not used: {fault}" for fault in left_out.error().faults]
    return SeasonRecords(
        {str(name): _visits(own) for name, own in table.groupby("block", sort=False)},
        cautions_first(notes, season.checked),
        left_out.source,
    )


def _rows_of_the_season(rows: _Sieve, season: Season, issue_date: date) -> list[str]:
    """Keep the rows of the season's own blocks and days; count those that are only not of it."""
    source, table = rows.left_out.source, rows.table
    setups = {one.name: block_setup(season, one) for one in season.blocks}
    planted = table["block"].map(
        {name: pd.Timestamp(one.block.planting_date) for name, one in setups.items()}
    )
    last = table["block"].map({name: pd.Timestamp(one.last_day) for name, one in setups.items()})
    visit = table["date"].dt.normalize()
    rows.table = table.assign(
        plot=table["plot"].fillna(""), date=visit, day=(visit - planted).dt.days
    )
    label = Path(season.source_name).stem
    stated = table["season"].fillna(label)
    other = (stated != label) & (stated != planted.dt.year.astype("string").fillna(label))
    later = ~other & (visit > pd.Timestamp(issue_date))
    rows.table = rows.table[~other & ~later & visit.notna()]  # no date: told where it was read
    known = rows.table["block"].isin(list(setups))
    rows.drop(~known, "no block of the season has this name", "block",
              f"the season has {', '.join(setups)}")  # fmt: skip
    rows.drop(visit < planted, "a visit before planting", "date",
              "mend the date, or the planting date of the season file")  # fmt: skip
    rows.drop(visit > last, "a visit after the last day of the season", "date")
    counted = {
        "of other seasons": other.sum(),
        f"after the day of issue ({issue_date})": later.sum(),
    }
    return [f"{source}: rows {what}: {count}" for what, count in counted.items() if count]


def _take_values(rows: _Sieve, season: Season) -> None:
    """Values a plant, each held against what a plant can bear and against the row's others."""
    rows.table = table = rows.table.assign(season="")
    for column, allowed in WORDS.items():
        check_words(table, column, allowed, rows.left_out)
    for name in ("first pick", "first flower"):
        table[name] = table["event"].where(table["event"].isin([name, f"no {name}"]))
    weigh_per_plant(table, {"": season}, rows.left_out)
    marketable, fruit = (table[name] for name in GRAMS)
    seen, bloom = table["plants_seen"], table["plants_in_bloom"]
    ripe = [*GRAMS, "ripe_fruit_per_plant"]
    rows.empty((table["day"] < EARLIEST_RIPE_D) & (table[ripe] > 0.0).any(axis=1),
               f"ripe fruit within {EARLIEST_RIPE_D} days of planting, before any flower could "
               "have become fruit", ripe)  # fmt: skip
    # What was taken is known to be gone, also where its weight is contradicted below.
    table["taken"] = (table[list(GRAMS)] > 0.0).any(axis=1).replace(False, None)
    rows.empty(bloom > seen, "more plants in bloom than plants seen", PLANTS[:2])
    rows.empty(bloom.notna() & seen.isna(), "plants in bloom without the number of plants seen",
               ["plants_in_bloom"], "fill in plants_seen")  # fmt: skip
    rows.empty(marketable > fruit, "more marketable fruit than fruit", list(GRAMS))
    rows.empty((bloom == 0) & (table["open_flowers_per_plant"] > 0.0),
               "open flowers where no plant is in bloom",
               ["plants_in_bloom", "open_flowers_per_plant"])  # fmt: skip
    rows.empty((table["not_picked"] == NONE_RIPE) & (table["ripe_fruit_per_plant"] > 0.0),
               "ripe fruit is counted where none was ripe",
               ["not_picked", "ripe_fruit_per_plant"])  # fmt: skip
    rows.tell(table["lost_to"].notna() & table["plants_lost_pct"].isna(),
              "a loss without the share of plants lost", ["lost_to"],
              "fill in plants_lost_pct")  # fmt: skip
    hear_not_picked(table, rows.left_out)


def _one_row_a_visit(rows: _Sieve) -> None:
    """Join rows of one plot and day; a value that they do not agree on is left out."""
    visit = rows.table.groupby(["block", "plot", "date"], sort=True).ngroup()
    for name in _SAID:
        others = rows.table[name].groupby(visit).transform("nunique") > 1
        rows.empty(others, "the same visit is recorded twice with other values", [name],
                   "remove one, or name the plots in a column plot")  # fmt: skip
    rows.table = rows.table.groupby(visit).first()


def _in_order(rows: _Sieve) -> None:
    """Leave out what an earlier visit of the plot contradicts."""
    table = rows.table
    plots = [table["block"], table["plot"]]
    first_pick, lost = table["first pick"], table["plants_lost_pct"]
    weighed = (table[list(GRAMS)] > 0.0).any(axis=1)
    picked = (weighed | (first_pick == "first pick")).groupby(plots).cummax()
    before = picked.groupby(plots).shift(fill_value=False)
    flowers = weighed | (table[["plants_in_bloom", *COUNTS]] > 0.0).any(axis=1)
    flowered = (flowers | (table["first flower"] == "first flower")).groupby(plots).cummax()
    no_flower = table["first flower"] == "no first flower"
    rows.empty((first_pick == "no first pick") & picked | (first_pick == "first pick") & before,
               "the first pick was earlier", ["first pick"])  # fmt: skip
    rows.empty(no_flower & flowered, "flowers or fruit were seen before", ["first flower"])
    rows.empty(lost.notna() & (lost.fillna(0.0).groupby(plots).cumsum() > 100.0),
               "more plants lost than were planted", ["plants_lost_pct"])  # fmt: skip


def _visits(own: pd.DataFrame) -> pd.DataFrame:
    """Days of visits to one block, its plots together."""
    grams = own[list(GRAMS)]
    none_yet = (own["first pick"] == "no first pick") & grams.isna().all(axis=1)
    marketable = own["marketable_g_per_plant"].mask(none_yet, 0.0)
    no_flower = (own["first flower"] == "no first flower") & own["plants_seen"].notna()
    bloom = own["plants_in_bloom"].mask(no_flower, 0.0)
    visits = pd.DataFrame({
        "day": own["day"].astype(np.int64),
        "plants_seen": own["plants_seen"].where(bloom.notna()),
        "plants_in_bloom": bloom,
        "plants_counted": own["plants_counted"],
        **{to: own[name] for name, to in COUNTS.items()},
        "marketable_g": marketable,
        "fruit_g": own["fruit_g_per_plant"],
        "picked": grams.notna().any(axis=1) | none_yet | own["taken"].notna()
        | (own["first pick"] == "first pick"),
        "fruit_left": own["not_picked"].isin(FRUIT_LEFT),
        "lost_share": own["plants_lost_pct"] / 100.0,
    })  # fmt: skip
    days = visits.groupby("day", sort=True)
    joined = days.mean()
    joined[list(PLANTS)] = days[list(PLANTS)].sum(min_count=1)
    joined[["picked", "fruit_left"]] = days[["picked", "fruit_left"]].max()
    return joined.reset_index()
