"""Marketable share and phyllochron, against the spans of published trials.

Menzel (2021), J. Hort. Sci. Biotechnol. 96:135: marketable over total .78, median .80 in 68
studies, range .25 to .99 (abstract read). Mendonca et al. (2012) and others: 60 to 200 degC d
above 7 degC per leaf (abstracts read). Archetypes: all six; cold-stored plants at 16 degC.
Accepted .60 to .95.
"""

import pytest

from phenocast.parameters import cultivars
from tests.phenology.chamber import chamber


@pytest.mark.parametrize("cultivar", sorted(cultivars()))
def test_marketable_share(cultivar):
    season = chamber(cultivar, "cold-stored", 150, 16.0, 16.0)
    assert 0.60 <= season.marketable_g.sum() / season.ripe_g.sum() <= 0.95


@pytest.mark.parametrize("cultivar", sorted(cultivars()))
def test_degree_days_per_leaf(cultivar):
    season = chamber(cultivar, "plug", 150, 18.0, 13.0)
    leaves = season.leaves[-1] - season.leaves[49]
    assert 60.0 <= (18.0 - 7.0) * 100 / leaves <= 200.0
