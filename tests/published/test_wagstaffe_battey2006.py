"""A summer month at 26 degC leaves a trough in the weekly harvest.

Wagstaffe, A. and Battey, N.H. (2006), J. Hort. Sci. Biotechnol. 81:1086-1092 (abstract read): 5
to 30 days at 26 degC in July are followed by a cropping trough about four to six weeks later; a
crop in 13 to 20 degC nights and days has none. Archetype: Tuff, unconditioned plug, cropping at
20 degC in 16 h days, 25 days at 26 degC. Tolerance two weeks. The paper finds aborted flowers as
the cause; in the model most of it comes from ripening brought forward, so the depth is not
checked.
"""

import numpy as np

from phenocast.harvest import grow
from phenocast.parameters import cultivars
from phenocast.phenology.chamber import chamber_days
from tests.phenology.chamber import plant_of

HOT_FROM, HOT_DAYS = 120, 25


def test_trough_four_to_six_weeks_after_the_heat_began():
    own = cultivars()["Tuff"]
    steady = chamber_days(260, 20.0, 16.0, cultivar=own)
    heated = steady.copy()
    hot = slice(HOT_FROM, HOT_FROM + HOT_DAYS)
    heated[:, hot] = chamber_days(HOT_DAYS, 26.0, 16.0, cultivar=own)
    plant = plant_of("Tuff", "plug")

    def weekly(days):
        return grow(days, plant).marketable_g.reshape(-1, 5).sum(axis=1)  # of five days

    ratio = weekly(heated)[24:40] / weekly(steady)[24:40]
    weeks_later = int(np.argmin(ratio)) * 5.0 / 7.0
    assert ratio.min() < 0.85
    assert 2.0 <= weeks_later <= 8.0
