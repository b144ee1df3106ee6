"""The files of an answer that every command leaves in its output folder alike."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from phenocast.io import OutputFolder


def write_answer(folder: OutputFolder, kind: str, document: dict[str, Any], text: str) -> None:
    """Write KIND.json for programs and KIND.txt as a page of text, both of the same document.

    A page for the browser belongs here too: it is made of the document alone, so `rerun` makes it
    again byte for byte.

    Parameters
    ----------
    folder : OutputFolder
        Entered; the manifest is written after this.
    kind : str
        Name of the files, that of the command.
    document : dict
    text : str
    """
    from phenocast.io import to_json

    folder.write(f"{kind}.json", to_json(document))
    folder.write(f"{kind}.txt", text)
