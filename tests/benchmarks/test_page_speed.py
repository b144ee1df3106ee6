"""Speed of the page of a forecast of six blocks, from its document to the HTML.

    pytest tests/benchmarks/test_page_speed.py --benchmark-enable

The bar is 2 s for the demo. The first page of a process also loads matplotlib, which is timed apart
by running the page once before.
"""

from __future__ import annotations

from datetime import date

import pytest

from phenocast.cli import running
from phenocast.parameters.library import shipped
from phenocast.report.forecast import forecast_parts
from phenocast.report.render import to_html


@pytest.fixture(scope="module")
def document():
    loaded = running.load(shipped("demo_weather", "low_quay.toml"))
    return running.forecast_document(loaded, date(2026, 10, 31), 20, 0)


def test_page_of_six_blocks(benchmark, document) -> None:
    html = benchmark.pedantic(to_html, args=(forecast_parts, document), rounds=5, warmup_rounds=1)
    assert len(document["blocks"]) == 6
    assert html.count("<svg") == 13
    if benchmark.enabled:
        assert benchmark.stats.stats.median < 2.0


def test_first_page_of_a_process(benchmark, document, tmp_path) -> None:
    """A fresh process reads the document, loads what it needs and writes the page."""
    import subprocess
    import sys

    from phenocast.io import to_json

    file = tmp_path / "forecast.json"
    file.write_text(to_json(document), encoding="utf-8")
    code = (
        "import json, sys; from pathlib import Path; "
        "from phenocast.report.forecast import forecast_parts; "
        "from phenocast.report.render import to_html; "
        "text = Path(sys.argv[1]).read_text(encoding='utf-8'); "
        "print(len(to_html(forecast_parts, json.loads(text))))"
    )

    def run() -> str:
        return subprocess.run(
            [sys.executable, "-c", code, str(file)], capture_output=True, text=True, check=True
        ).stdout

    size = int(benchmark.pedantic(run, rounds=3, warmup_rounds=1 if benchmark.enabled else 0))
    assert 100_000 < size < 1_500_000
