"""Documents for the tests of the pages, made by the engine once."""

from __future__ import annotations

from datetime import date

import pytest

from phenocast.cli import running
from phenocast.parameters.library import shipped

NASTY = (
    "<script>alert(1)</script>",
    "\"quotes\" & 'quotes'",
    "شمال\u202eevil",
    "🍓 north",
    "x" * 300,
    "$a_b$ {{ 7 * 7 }} {date} #ff0000",
)


@pytest.fixture(scope="session")
def loaded():
    """The season of the demo with its weather."""
    return running.load(shipped("demo_weather", "low_quay.toml"))


@pytest.fixture(scope="session")
def forecast_document(loaded):
    """A forecast of the demo with few draws."""
    return running.forecast_document(loaded, date(2026, 10, 31), 8, 0)


@pytest.fixture(params=NASTY, ids=("script", "quotes", "direction", "emoji", "long", "formula"))
def nasty(request):
    """A name that must stay text."""
    return request.param
