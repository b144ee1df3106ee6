"""A fitted film on disk, as season files name it."""

from __future__ import annotations

import os
import tomllib
from collections.abc import Sequence
from pathlib import Path

from phenocast.io.atomic import write_atomic
from phenocast.parameters import ParameterSet, film_from, parameter_toml


def write_film(
    path: str | os.PathLike[str],
    film: ParameterSet,
    *,
    remarks: Sequence[str] = (),
) -> Path:
    """Write a film file that a season names by ``[film.NAME] file = "..."``.

    Parameters
    ----------
    path : str or path
    film : ParameterSet
        Such as ``film_`` of a fitted `CrownSensorCalibrator`.
    remarks : sequence of str
        Lines that stand as comments at the head.

    Returns
    -------
    Path

    Raises
    ------
    InputError
        Where the file exists or cannot be written, or where what would be written is no film that
        a season can use.

    Examples
    --------
    >>> import tempfile
    >>> from phenocast.io import read_film
    >>> from phenocast.parameters import films
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     place = write_film(Path(folder, "film.toml"), films()["black"])
    ...     read_film(place, "south") == ParameterSet("south", films()["black"].parameters,
    ...                                               films()["black"].labels)
    True
    """
    text = parameter_toml("film", [film], remarks)
    film_from(tomllib.loads(text), film.name, str(path))
    return write_atomic(path, text)
