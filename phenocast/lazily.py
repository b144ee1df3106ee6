"""Names of a package whose modules are loaded when a name is first asked for."""

import importlib
from collections.abc import Callable, Mapping
from typing import Any


def names_from(package: str, homes: Mapping[str, str]) -> Callable[[str], Any]:
    """Return what a package gives as its ``__getattr__``.

    Parameters
    ----------
    package : its ``__name__``.
    homes : module of the package in which each name stands.

    Raises
    ------
    AttributeError
        What is returned, for any other name.

    Examples
    --------
    >>> names_from("phenocast", {"Fault": "errors"})("Fault").__name__
    'Fault'
    """

    def load(name: str) -> Any:
        if name in homes:
            return getattr(importlib.import_module(f"{package}.{homes[name]}"), name)
        raise AttributeError(f"module {package!r} has no attribute {name!r}")

    return load
