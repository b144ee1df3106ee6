"""Where the shipped numbers lie: in a checkout beside the package, in a wheel inside it."""

from __future__ import annotations

from pathlib import Path

from phenocast.errors import Fault, InputError

_PACKAGE = Path(__file__).resolve().parent.parent


def shipped(*parts: str) -> Path:
    """Return the path of a shipped file or folder.

    Parameters
    ----------
    *parts : str
        Path under the repository's root, such as "calibration", "films.toml".

    Returns
    -------
    Path

    Raises
    ------
    InputError
        When the installation lacks it.

    Examples
    --------
    >>> shipped("calibration", "films.toml").name
    'films.toml'
    """
    candidates = (_PACKAGE / "_data", _PACKAGE.parent)
    for root in candidates:
        path = root.joinpath(*parts)
        if path.exists():
            return path
    raise InputError(
        Fault(
            "a shipped file is missing",
            where="/".join(parts),
            do="install phenocast again: the wheel carries calibration/ and demo_weather/",
        )
    )
