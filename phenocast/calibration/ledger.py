"""Finished steps of long work, so that work that was cut off goes on where it ended."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

Progress = Callable[[int, int, str], None]


class Ledger:
    """What each step found, by its name; a step that is in it is not done again.

    A step gives a mapping of plain values (numbers, texts, lists), so that a file can keep it.
    Steps must be the same for the same input: then a fit that was cut off ends as one that was not.

    Parameters
    ----------
    found : mapping, optional
        Steps of an earlier run.
    keep : callable, optional
        Called with the name and the outcome of each step when it is done.

    Examples
    --------
    >>> ledger = Ledger({"first": {"sum": 3.0}})
    >>> ledger.step("first", lambda: {"sum": -1.0}), ledger.step("second", lambda: {"sum": 4.0})
    ({'sum': 3.0}, {'sum': 4.0})
    >>> sorted(ledger.found)
    ['first', 'second']
    """

    def __init__(
        self,
        found: dict[str, dict[str, Any]] | None = None,
        keep: Callable[[str, dict[str, Any]], None] | None = None,
    ) -> None:
        self.found = dict(found or {})
        self._keep = keep

    def step(self, name: str, work: Callable[[], dict[str, Any]]) -> dict[str, Any]:
        """Outcome of a step: as it was kept, or by doing the work."""
        if name not in self.found:
            self.found[name] = work()
            if self._keep is not None:
                self._keep(name, self.found[name])
        return self.found[name]
