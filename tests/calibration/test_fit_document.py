"""The document of a fit where its records free no number."""

from types import SimpleNamespace

import pandas as pd

from phenocast.calibration.cultivar.document import _cultivar
from phenocast.calibration.cultivar.estimator import VALUES


def test_a_cultivar_of_a_fit_that_freed_no_number_has_none():
    used = pd.DataFrame({"cultivar": ["Marl"], "season": ["2024"], "film": ["black"]})
    found = _cultivar("Marl", pd.DataFrame([], columns=VALUES), SimpleNamespace(used=used), [])
    assert found["parameters"] == []
    assert (found["records"], found["films"]) == (1, ["black"])
