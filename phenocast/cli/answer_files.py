"""The files of an answer that every command leaves in its output folder alike."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from phenocast.io import OutputFolder


def write_answer(
    folder: OutputFolder,
    kind: str,
    document: dict[str, Any],
    text: str,
    pages: Mapping[str, str] | None = None,
) -> None:
    """Write KIND.json for programs, KIND.txt as a page of text, and the pages for the browser.

    All are made of the same document alone, so `rerun` makes them again byte for byte.

    Parameters
    ----------
    folder : OutputFolder
        Entered; the manifest is written after this.
    kind : str
        Name of the files, that of the command.
    document : dict
        As `plain_data` made it.
    text : str
    pages : mapping, optional
        Pages by the name of their file, such as ``report.html``.
    """
    from phenocast.io import plain_to_json

    folder.write(f"{kind}.json", plain_to_json(document))
    folder.write(f"{kind}.txt", text)
    for name, page in (pages or {}).items():
        folder.write(name, page)
