"""The data dictionary tells what the readers hold files to, and all of it."""

import re

import pytest

from phenocast.io.templates import RECORD_TABLES, TEMPLATE_NAMES, dictionary
from phenocast.tables import CONTRACTS

WRITTEN = {"hourly weather", "crown temperatures", "first pick by week", "weekly harvest",
           "past seasons"}  # fmt: skip
"""Tables that phenocast writes and never asks a user for."""


def sections():
    parts = re.split(r"(?m)^## (.*)$", dictionary())
    return {
        title: " ".join(text.split()) for title, text in zip(parts[1::2], parts[2::2], strict=True)
    }


def test_every_table_that_is_read_has_its_section_and_starter():
    assert {one.contract.name for one in RECORD_TABLES} == set(CONTRACTS) - WRITTEN
    assert list(sections()) == [one.title for one in RECORD_TABLES]
    starters = {one.template for one in RECORD_TABLES} - {""}
    assert starters == set(TEMPLATE_NAMES) - {"season", "dictionary"}


@pytest.mark.parametrize("table", RECORD_TABLES, ids=lambda one: one.contract.name)
def test_every_column_is_told_with_unit_range_need_and_meaning(table):
    text = sections()[table.title]
    told = re.findall(r"- `(\w+)`", text)
    assert told == [name for name in table.contract.names if name != "row"]
    for column in table.contract.columns:
        if column.name == "row":
            continue
        own = text[text.index(f"- `{column.name}`") :].split(" - `")[0]
        assert own.startswith(f"- `{column.name}`" + (f" [{column.unit}]" if column.unit else ""))
        assert " ".join(column.meaning.split()) in own
        assert ("required" in own) == column.required
        assert ("optional" in own) != column.required
        assert ("may be empty" in own) == (column.nullable and column.required)
        assert ("without empty cells" in own) == (not column.nullable and not column.required)
        if column.kind in ("number", "whole"):
            assert f"{column.lower:.10g} to {column.upper:.10g}" in own


def test_the_starters_have_only_columns_of_the_dictionary():
    from phenocast.io.templates import template
    from phenocast.io.weather.quantities import split_header

    for table in RECORD_TABLES:
        if table.template in ("", "weather"):  # a station's headers are understood by their words
            continue
        header = next(
            line for line in template(table.template).splitlines() if not line.startswith("#")
        )
        known = set(table.contract.names)
        names = {one if one in known else split_header(one).name for one in header.split(",")}
        assert names <= known or (table.contract.extra and len(names - known) == 1), names - known
