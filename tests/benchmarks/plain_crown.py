"""What one would write instead of the crown's kernel: a plain Python loop with NumPy's solver.

One plain film over hours of weather: film by Newton, three soil layers by a linear solve an hour.
It is the yardstick of a ratio; nothing of the package uses it and it uses nothing of the package.
Left out: stripes, ageing, water on the film, light through the film, cold air that shuts out wind.
"""

import numpy as np

SIGMA = 5.670374e-8


def crown_hours(air, wind, solar, sky, deep, cover, absorptance=0.95, emittance=0.85):
    """Film, air above it, crown, soil at 5 and 10 cm [degC], arrays [5, n]."""
    k, capacity, contact = 1.0, 1.9e6, 20.0
    thick = np.array([0.04, 0.12, 0.44])
    store = capacity * thick / 3600.0
    top = 1 / (1 / contact + 0.02 / k)
    upper, lower, bottom = k / 0.08, k / 0.28, k / 0.52
    out = np.empty((5, air.size))
    soil = np.full(3, air[:72].mean())
    film = air[0]
    for i in range(air.size):
        light = solar[i] * (1 - 0.85 * cover[i])
        black = SIGMA * (air[i] + 273.15) ** 4
        down = (1 - cover[i]) * sky[i] + cover[i] * 0.97 * black
        h = 6 + 5 * wind[i]
        for _ in range(3):
            # soil for this film temperature, and its answer to one degree more
            matrix = np.array(
                [
                    [store[0] + top + upper, -upper, 0.0],
                    [-upper, store[1] + upper + lower, -lower],
                    [0.0, -lower, store[2] + lower + bottom],
                ]
            )
            right = store * soil + np.array([top * film, 0.0, bottom * deep[i]])
            new = np.linalg.solve(matrix, right)
            answer = np.linalg.solve(matrix, np.array([top, 0.0, 0.0]))[0]
            kelvin = film + 273.15
            gap = (
                absorptance * light
                + emittance * (down - SIGMA * kelvin**4)
                + h * (air[i] - film)
                + top * (new[0] - film)
            )
            slope = -4 * emittance * SIGMA * kelvin**3 - h - top * (1 - answer)
            film = film - gap / slope
        right = store * soil + np.array([top * film, 0.0, bottom * deep[i]])
        soil = np.linalg.solve(matrix, right)
        shade = min(0.95, 1.3 * cover[i])
        over = air[i] + 0.12 * (film - air[i])
        seen = (1 - shade) * sky[i] + shade * 0.97 * black
        radiant = 0.5 * (film + (seen / SIGMA) ** 0.25 - 273.15)
        out[0, i], out[1, i] = film, over
        out[2, i] = (
            0.59 * soil[0]
            + 0.32 * over
            + 0.09 * radiant
            + 0.0004 * (2 - absorptance) * (1 - shade) * solar[i]
        )
        out[3, i] = soil[0] + 0.375 * (soil[1] - soil[0])
        out[4, i] = soil[1]
    return out
