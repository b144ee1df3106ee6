"""The commented labour and prices of the season template are right once the marks are taken off."""

import re
import tomllib

import pytest

from phenocast.errors import InputError
from phenocast.io import template
from phenocast.season import season_from_mapping


def test_uncommented_tables_are_read():
    text = template("season")
    start = text.index("# For `phenocast labour`")
    tables = re.sub(r"^# (?=\[|\w+ = )", "", text[start:], flags=re.MULTILINE)
    mapping = tomllib.loads(text[:start]) | tomllib.loads(tables)
    prices = mapping["prices"]
    # three ways are shown, one may be stated; labour shows one key of each kind
    with pytest.raises(InputError, match="in no way, or in more than one"):
        season_from_mapping(mapping)
    for way in ("file", "months", "per_kg"):
        kept = {key: value for key, value in prices.items() if key in ("currency", way)}
        season = season_from_mapping(mapping | {"prices": kept})
        assert season.labour is not None
        assert season.labour.overtime is not None
        assert season.prices is not None
        assert season.costs is not None
        assert season.costs.transplant_each["plug"] > 0.0
    shown = {"currency", "wage_per_h", "crew_so_far", "overtime", "tallies"}
    assert shown <= set(mapping["labour"])
