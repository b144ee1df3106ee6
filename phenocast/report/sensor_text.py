"""A sensor fit as a page of plain text, made of its document alone."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from phenocast.report.columns import look_first, wrapped


def sensor_text(document: Mapping[str, Any]) -> str:
    """Return the fits of a document as text, with how a season names each film.

    Parameters
    ----------
    document : mapping
        Of `phenocast.calibration.film.report`.

    Examples
    --------
    >>> none = {"blocks": [], "warnings": [], "source": "log.csv",
    ...         "not_used": [{"block": "south", "rows": 9, "reason": "too few days"}]}
    >>> print(sensor_text(none), end="")
    south: not fitted (9 rows): too few days
    """
    lines = look_first(document["warnings"])
    for block in document["blocks"]:
        held = len(block["days_held_out"])
        lines += [
            *wrapped(
                f"{block['block']}: the film {block['film']}, fitted to {document['source']}", ""
            ),
            f"  {len(block['days_fitted'])} days to fit to, {held} held out",
        ]
        for line in block["report"].splitlines():
            inset = " " * (len(line) - len(line.lstrip()) + 2)
            lines += wrapped(line.strip(), indent=inset)
        lines += [
            "  A season names it by",
            f"    [film.{block['film']}]",
            f'    file = "{block["film"]}.toml"',
            "",
        ]
    for one in document["not_used"]:
        lines += wrapped(f"{one['block']}: not fitted ({one['rows']} rows): {one['reason']}", "")
    for warning in document["warnings"]:
        lines += wrapped(f"caution: {warning}", "")
    return "\n".join(lines).rstrip() + "\n"
