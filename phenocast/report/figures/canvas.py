"""From a painter to inline SVG: the same bytes for the same painting, dressed by the page's style.

matplotlib draws; its output is then stripped of what a page must not have (identifiers that clash,
metadata, fonts of its own) and its colours become those of the page, light or dark.
"""

from __future__ import annotations

import io
import re
import textwrap
import warnings
from collections.abc import Callable
from typing import TYPE_CHECKING, Any
from xml.etree import ElementTree as ET

from phenocast.report.figures.palette import SERIES, dressed, ink, undressed

if TYPE_CHECKING:
    from matplotlib.figure import Figure

POINTS_PER_INCH = 72.0
NARROW, WIDE = 460.0, 900.0
"""Widths of a drawing: half a page (and a phone), or a whole page."""
TEXT = 12.0
"""Size of letters in a drawing; on a phone it is scaled down by about a fifth."""

_CAPTION, _LINE = 10.0, 14.0

_LONG_NUMBER = re.compile(r"(\.\d\d)\d+")
# matplotlib names its fonts in one property or in two, by its version.
_FONT_SIZE = re.compile(r"font:[^;]*?([\d.]+)px[^;]*(;?)")
_FONT_FAMILY = re.compile(r"font-family:[^;]*;?\s*")
_NUMBERED = ("d", "x", "y", "width", "height", "transform", "points")


def draw(
    key: str,
    paint: Callable[[Figure], None],
    *,
    title: str,
    alt: str,
    width: float = NARROW,
    height: float = 280.0,
) -> str:
    """Drawing as SVG for a page.

    Parameters
    ----------
    key : str
        Unique on the page; identifiers inside the drawing begin with it. ASCII letters, digits
        and dashes.
    paint : callable
        Draws on the empty figure that it is given; text in it is never read as formulas.
    title, alt : str
        What the drawing is, and what it shows in words, for those who do not see it.
    width, height : float
        Size; 1 is a pixel where the drawing is shown at its own size.

    Raises
    ------
    ValueError
        For another key, or a colour that is not of the palette: it would not turn dark.

    Returns
    -------
    str
        One ``svg`` element without a namespace, for use inside HTML only.

    Examples
    --------
    >>> svg = draw("one", lambda figure: None, title="Heat", alt="No <heat>.")
    >>> svg.startswith('<svg viewBox="0 0 460 280" role="img" aria-labelledby="one-title one-alt">')
    True
    >>> "No &lt;heat&gt;." in svg
    True
    """
    if not re.fullmatch(r"[A-Za-z][A-Za-z0-9-]*", key):
        raise ValueError(f"a figure's key is letters, digits and dashes, not '{key}'")
    return _cleaned(_drawn(key, paint, width, height), key, title, alt, width, height)


def as_file(svg: str, caption: str = "") -> str:
    """Drawing of a page as a file of its own, in light dress, for documents and slides.

    Parameters
    ----------
    svg : str
        From `draw`.
    caption : str
        What stands below it; on a page the text around it tells that.

    Returns
    -------
    str
        An SVG file with its size, a ground and plain colours, which programs beside browsers read.

    Examples
    --------
    >>> text = as_file(draw("one", lambda figure: None, title="Heat", alt="Nothing."))
    >>> "xmlns" in text, "var(--" in text
    (True, False)
    """
    root = ET.fromstring(svg)
    _, _, width, drawn = root.attrib["viewBox"].split()
    lines = textwrap.wrap(caption, int(float(width) / (0.55 * _CAPTION)))
    height = f"{float(drawn) + _LINE * len(lines):g}"
    root.set("viewBox", f"0 0 {width} {height}")
    root.set("xmlns", "http://www.w3.org/2000/svg")
    root.set("xmlns:xlink", "http://www.w3.org/1999/xlink")
    root.set("width", width)
    root.set("height", height)
    root.set("font-family", "DejaVu Sans, Verdana, sans-serif")
    filled = {"width": width, "height": height, "style": f"fill: {ink('ground')}"}
    ground = ET.Element("rect", filled)
    root.insert(2, ground)  # after title and description
    for number, line in enumerate(lines):
        place = {"x": "8", "y": f"{float(drawn) + _LINE * (number + 0.4):g}"}
        style = f"font-size: {_CAPTION:g}px; fill: {ink('quiet')}"
        ET.SubElement(root, "text", {**place, "style": style}).text = line
    for element in root.iter():
        if "style" in element.attrib:
            element.set("style", undressed(element.attrib["style"]))
        if "href" in element.attrib:
            element.set("xlink:href", element.attrib.pop("href"))
    return ET.tostring(root, encoding="unicode") + "\n"


def _drawn(key: str, paint: Callable[[Figure], None], width: float, height: float) -> str:
    """SVG as matplotlib writes it."""
    import matplotlib as mpl
    from cycler import cycler
    from matplotlib.backends.backend_svg import FigureCanvasSVG
    from matplotlib.figure import Figure

    settings: Any = _SETTINGS | {
        "svg.hashsalt": key,
        "axes.prop_cycle": cycler(color=[one.colour for one in SERIES]),
    }
    with mpl.rc_context(settings), warnings.catch_warnings():
        # Letters that the measuring font lacks are drawn by the reader's own fonts.
        warnings.filterwarnings("ignore", message="Glyph .* missing from font")
        figure = Figure(figsize=(width / POINTS_PER_INCH, height / POINTS_PER_INCH))
        FigureCanvasSVG(figure)
        paint(figure)
        written = io.BytesIO()
        nothing: dict[str, Any] = dict.fromkeys(("Date", "Creator", "Format", "Type"))
        figure.savefig(written, format="svg", dpi=POINTS_PER_INCH, metadata=nothing)
    return written.getvalue().decode("utf-8")


def _cleaned(text: str, key: str, title: str, alt: str, width: float, height: float) -> str:
    """SVG without what a page must not have."""
    root = ET.fromstring(text)
    parts = list(root)
    root.clear()
    for name, value in (
        ("viewBox", f"0 0 {width:g} {height:g}"),
        ("role", "img"),
        ("aria-labelledby", f"{key}-title {key}-alt"),
    ):
        root.set(name, value)
    root.tag = "svg"
    for name, words in (("title", title), ("desc", alt)):
        told = ET.SubElement(root, name, {"id": f"{key}-{name.replace('desc', 'alt')}"})
        told.text = words
    for part in parts:
        if not part.tag.endswith("metadata") and not _is_style(part):
            root.append(part)
    _drop_invisible(root)
    names = {element.get("id", ""): "" for element in root.iter() if _is_target(element)}
    for number, name in enumerate(names):
        names[name] = f"{key}-{number}"
    for element in root.iter():
        _clean(element, names)
    return ET.tostring(root, encoding="unicode")


def _drop_invisible(element: ET.Element) -> None:
    """Drop outlines that have neither line nor filling, and groups with nothing in them."""
    for child in list(element):
        _drop_invisible(child)
        unseen = child.tag.endswith("path") and child.get("style", "").strip() == "fill: none"
        empty = child.tag.endswith("}g") and not len(child)
        if unseen or empty:
            element.remove(child)


def _is_style(part: ET.Element) -> bool:
    """Say whether a part holds only the style sheet of matplotlib."""
    return part.tag.endswith("defs") and all(child.tag.endswith("style") for child in part)


def _is_target(element: ET.Element) -> bool:
    """Say whether a part is drawn elsewhere by its name."""
    return element.get("id") is not None and _local(element.tag) in {"path", "clipPath"}


def _local(name: str) -> str:
    return name.rsplit("}", 1)[-1]


def _clean(element: ET.Element, names: dict[str, str]) -> None:
    """Give one element its page-wide name, its colours and short numbers."""
    element.tag = _local(element.tag)
    element.tail = None
    if element.text is not None and not element.text.strip():
        element.text = None
    for name in list(element.attrib):
        value = element.attrib.pop(name)
        local = _local(name)
        if local == "id" and element.tag not in {"title", "desc"}:
            if value not in names:
                continue
            value = names[value]
        elif local == "href":
            value = f"#{names[value[1:]]}"
        elif local == "clip-path":
            continue
        elif local == "style":
            value = _FONT_FAMILY.sub("", _FONT_SIZE.sub(r"font-size: \1px\2", value))
            value = dressed(value).strip()
            if "#" in value:
                raise ValueError(f"a colour that is not of the palette: {value}")
        elif local in _NUMBERED:
            value = " ".join(_LONG_NUMBER.sub(r"\1", value).split())
        element.set(local, value)


_SETTINGS: dict[str, Any] = {
    "svg.fonttype": "none",
    "svg.id": None,
    "text.parse_math": False,
    "font.family": ["DejaVu Sans"],
    "font.size": TEXT,
    "axes.titlesize": TEXT,
    "axes.labelsize": TEXT,
    "xtick.labelsize": TEXT,
    "ytick.labelsize": TEXT,
    "legend.fontsize": TEXT,
    "figure.facecolor": "none",
    "axes.facecolor": "none",
    "savefig.facecolor": "none",
    "text.color": ink("ink"),
    "axes.labelcolor": ink("quiet"),
    "axes.edgecolor": ink("quiet"),
    "axes.titlecolor": ink("ink"),
    "axes.titlelocation": "left",
    "axes.titlepad": 8.0,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.linewidth": 0.8,
    "axes.grid": True,
    "axes.grid.axis": "y",
    "axes.axisbelow": True,
    "axes.xmargin": 0.0,
    "axes.unicode_minus": True,
    "grid.color": ink("rule"),
    "grid.linewidth": 0.7,
    "xtick.color": ink("quiet"),
    "ytick.color": ink("quiet"),
    "xtick.major.size": 0.0,
    "ytick.major.size": 0.0,
    "xtick.minor.size": 0.0,
    "ytick.minor.size": 0.0,
    "lines.linewidth": 2.0,
    "patch.linewidth": 0.0,
    "legend.frameon": False,
}
