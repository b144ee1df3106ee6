"""Results as text, figures and HTML pages; a module is loaded when it is first named."""

import importlib
from typing import Any


def __getattr__(name: str) -> Any:
    """Load a module of the package."""
    try:
        return importlib.import_module(f"{__name__}.{name}")
    except ModuleNotFoundError:
        raise AttributeError(f"module {__name__!r} has no module {name!r}") from None
