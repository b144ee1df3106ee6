"""What each cover of the bed counts on each day of a planting date.

The bed is run at a few fixed covers, and once more bare with the sprinklers on: the nodes. A day of
a planting date lies between two covers, and between the dry and the sprinkled bed. All of this
hangs on the air and the planting date alone, so every film and draw under one course of weather
shares it.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from numba import njit
from numpy.typing import NDArray

from phenocast.vector import everywhere, load, row_of, series, store

Array = NDArray[np.float64]

# Covers at which the bed is run: denser where the crown changes fastest with cover.
COVER_NODES = (0.05, 0.25, 0.45, 0.70)
SPRINKLED = len(COVER_NODES)
N_NODES = len(COVER_NODES) + 1
# What the soil remembers when the sprinklers stop: share of the wet regime in the crown's first dry
# daily mean, and its decline from day to day. Read off full runs of four films at three dates (0.10
# to 0.28 on the first day, 0.04 to 0.11 on the second); a number of this shortcut alone. On the
# first wet day the dry soil is left out: it would put heat above the threshold where there is none.
MEMORY = 0.2
MEMORY_RATIO = 0.45
MEMORY_DAYS = 20  # by then it is below a millionth


def node_weights(cover: Array, sprinkled_days: int) -> Array:
    """Return what each node counts on each day of one planting date, ``[N_NODES, n_days]``.

    Parameters
    ----------
    cover : ``[n_days]``, share of the bed top under leaves on each day.
    sprinkled_days : days from planting on with the sprinklers on.

    Notes
    -----
    The weights of a day are those of reading between two covers, and between the dry and the
    sprinkled bed, on straight lines; they sum to 1.

    Examples
    --------
    >>> node_weights(np.array([0.05, 0.30]), 0)[:, 1].round(9).tolist()
    [0.0, 0.75, 0.25, 0.0, 0.0]
    """
    days = np.arange(len(cover))
    covers = np.array(COVER_NODES)
    low = np.clip(np.searchsorted(covers, cover, side="left") - 1, 0, len(covers) - 2)
    share = np.clip((cover - covers[low]) / (covers[low + 1] - covers[low]), 0.0, 1.0)
    wet = np.where(days < sprinkled_days, 1.0, 0.0)
    if sprinkled_days > 0:
        drying = (days >= sprinkled_days) & (days < sprinkled_days + MEMORY_DAYS)
        wet[drying] = MEMORY * MEMORY_RATIO ** (days[drying] - sprinkled_days)
    weights = np.zeros((N_NODES, len(cover)))
    weights[low, days] = (1.0 - wet) * (1.0 - share)
    weights[low + 1, days] = (1.0 - wet) * share
    weights[SPRINKLED] = wet
    return weights


def counted_days(weights: Iterable[tuple[int, Array]], n_days: int) -> NDArray[np.int64]:
    """Return the first day on which each node counts and the day after the last, ``[N_NODES, 2]``.

    Parameters
    ----------
    weights : for each planting date the days from the nodes' first day to planting, and
        `node_weights`.
    n_days : days of the nodes. A node that never counts has 0 and 0.

    Examples
    --------
    >>> bare = node_weights(np.full(3, 0.05), 1)
    >>> counted_days([(0, bare), (2, bare)], 5).tolist()
    [[1, 5], [0, 0], [0, 0], [0, 0], [0, 5]]
    """
    counts = np.zeros((N_NODES, n_days), dtype=bool)
    for offset, weight in weights:
        counts[:, offset : offset + weight.shape[1]] |= weight > 0.0
    any_day = counts.any(axis=1)
    first = np.where(any_day, counts.argmax(axis=1), 0)
    stop = np.where(any_day, n_days - counts[:, ::-1].argmax(axis=1), 0)
    return np.column_stack([first, stop])


@njit(cache=True, nogil=True, error_model="numpy")
def mix_nodes(values: Array, weights: Array, newer: float, offset: int, out: Array) -> None:
    """Fill daily series ``[days, LANES]`` of a planting date from their values at the nodes.

    Parameters
    ----------
    values : ``[ages, nodes, days of the span, LANES]``, of one age of the film or of two.
    weights : ``[nodes, days]``, `node_weights`.
    newer : what the second age counts. [0 to 1]
    offset : days from the first day of the span to planting.
    out : ``[days, LANES]``, filled.
    """
    n_ages, n_nodes = values.shape[0], values.shape[1]
    filled = series(out)
    for day in range(weights.shape[1]):
        mixed = everywhere(0.0)
        for age in range(n_ages):
            share = newer if age == 1 else 1.0 - newer
            for node in range(n_nodes):
                weight = share * weights[node, day]
                if weight > 0.0:  # on most days most nodes count nothing
                    mixed += weight * load(row_of(values, age * n_nodes + node), offset + day)
        store(filled, day, mixed)
