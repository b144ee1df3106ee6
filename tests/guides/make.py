"""What a program makes of the guides: the tables of records, and the picture of a season.

``python -m tests.guides.make DEMO`` writes both anew; DEMO is a folder that ``phenocast demo`` left
with its default options. Without DEMO only the tables are written.
"""

from __future__ import annotations

import re
import sys
from pathlib import Path
from xml.etree import ElementTree as ET

from phenocast.io.templates import dictionary
from phenocast.report.figures.canvas import as_file

GUIDES = Path(__file__).parents[2] / "phenocast" / "guides"
TABLES, PICTURE = GUIDES / "tables.md", GUIDES / "season.svg"
BEGIN = "<!-- made by tests/guides/make.py from phenocast.tables: do not edit below this line -->\n"
CAPTION = "Invented demo: Quay East, Marl on black film. Shaded: 8 chances in 10."


def tables(text: str) -> str:
    """Return the guide with the part anew that is made from the contracts of the tables."""
    return text[: text.index(BEGIN)] + BEGIN + "\n" + records()


def records() -> str:
    """Return the section of every table of records, as the data dictionary has them."""
    made = dictionary()
    return made[made.index("## ") :]


def drawing(page: str) -> str:
    """Return the drawing of the first block's season from the page of a forecast."""
    (found,) = re.findall(r'<svg [^>]*aria-labelledby="season-1-title.*?</svg>', page, re.DOTALL)
    return found


def description(svg: str) -> str:
    """Return what a drawing shows, in words."""
    (found,) = (part for part in ET.fromstring(svg).iter() if part.tag.split("}")[-1] == "desc")
    return " ".join((found.text or "").split())


if __name__ == "__main__":
    TABLES.write_text(tables(TABLES.read_text(encoding="utf-8")), encoding="utf-8")
    for demo in sys.argv[1:]:
        page = (Path(demo) / "forecast.html").read_text(encoding="utf-8")
        PICTURE.write_text(as_file(drawing(page), CAPTION), encoding="utf-8")
