"""What one would write instead of the crown's kernel: an hourly loop over one plain film.

Film by Newton, three soil layers eliminated by hand. Written so that it runs on arrays of draws, a
batch in NumPy, and on single numbers compiled by numba. It is the yardstick of a ratio; nothing of
the package uses it and it uses nothing of the package. Left out: stripes, ageing, water on the
film, light through the film, cold air that shuts out wind.
"""

import numpy as np

SIGMA = 5.670374e-8
K, CAPACITY, CONTACT, EMITTANCE = 1.0, 1.9e6, 20.0, 0.85
TOP, UPPER, LOWER, BOTTOM = 1 / (1 / CONTACT + 0.02 / K), K / 0.08, K / 0.28, K / 0.52
STORE_1, STORE_2, STORE_3 = (CAPACITY * m / 3600.0 for m in (0.04, 0.12, 0.44))
LEFT_3 = STORE_3 + LOWER + BOTTOM
LEFT_2 = STORE_2 + UPPER + LOWER - LOWER**2 / LEFT_3
LEFT_1 = STORE_1 + TOP + UPPER - UPPER**2 / LEFT_2


def bed_hours(absorptance, air, wind, solar, sky, deep, cover, out):
    """Fill film, air above it, crown, soil at 5 and 10 cm [degC], ``[n, 5]`` or ``[n, 5, draws]``.

    ``absorptance`` is a number or an array ``[draws]``.
    """
    soil_1 = soil_2 = soil_3 = air[:72].mean() + 0.0 * absorptance
    film = soil_1
    for i in range(air.size):
        light = solar[i] * (1 - 0.85 * cover[i])
        black = SIGMA * (air[i] + 273.15) ** 4
        down = (1 - cover[i]) * sky[i] + cover[i] * 0.97 * black
        h = 6 + 5 * wind[i]
        # the layers from the bottom up: soil_1 = rest + gain x film
        rest_3 = (STORE_3 * soil_3 + BOTTOM * deep[i]) / LEFT_3
        rest_2 = (STORE_2 * soil_2 + LOWER * rest_3) / LEFT_2
        rest_1 = (STORE_1 * soil_1 + UPPER * rest_2) / LEFT_1
        gain = TOP / LEFT_1
        for _ in range(3):
            kelvin = film + 273.15
            cube = EMITTANCE * SIGMA * kelvin * kelvin * kelvin
            gap = (
                absorptance * light
                + EMITTANCE * down
                - cube * kelvin
                + h * (air[i] - film)
                + TOP * (rest_1 + gain * film - film)
            )
            film = film + gap / (4 * cube + h + TOP * (1 - gain))
        soil_1 = rest_1 + gain * film
        soil_2 = rest_2 + UPPER / LEFT_2 * soil_1
        soil_3 = rest_3 + LOWER / LEFT_3 * soil_2
        shade = min(0.95, 1.3 * cover[i])
        over = air[i] + 0.12 * (film - air[i])
        seen = (1 - shade) * sky[i] + shade * 0.97 * black
        radiant = 0.5 * (film + (seen / SIGMA) ** 0.25 - 273.15)
        sun = 0.0004 * (2 - absorptance) * (1 - shade) * solar[i]
        out[i, 0] = film
        out[i, 1] = over
        out[i, 2] = 0.59 * soil_1 + 0.32 * over + 0.09 * radiant + sun
        out[i, 3] = soil_1 + 0.375 * (soil_2 - soil_1)
        out[i, 4] = soil_2


def crown_hours(loop, absorptance, air, *rest):
    """Temperatures of every draw, ``[draws, 5, n]`` or, of a single number, ``[5, n]``."""
    out = np.empty((air.size, 5, *np.shape(absorptance)))
    loop(absorptance, air, *rest, out)
    return np.moveaxis(out, 0, -1) if out.ndim == 2 else out.transpose(2, 1, 0)
