"""What figures are drawn with: colours of a page, SVG from a painter, axes that several share.

matplotlib draws; its output is stripped of what a page must not have (identifiers that clash,
metadata, fonts of its own) and its colours become those of the page, light or dark. The four
colours of series differ in lightness as well as in hue, so that they stay apart for readers with
any of the three colour vision deficiencies (a test simulates them); and no series is told by its
colour alone: each has dashes and a marker of its own, and a label beside it.
"""

from __future__ import annotations

import io
import re
import textwrap
import warnings
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, timedelta
from typing import TYPE_CHECKING, Any
from xml.etree import ElementTree as ET

from phenocast.report.reader import Reader

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


@dataclass(frozen=True)
class Role:
    """One colour by what it does: its value on light and on dark ground."""

    light: str
    dark: str


ROLES: dict[str, Role] = {
    "ground": Role("#fbfaf5", "#15191a"),
    "panel": Role("#f0eee4", "#20272a"),
    "ink": Role("#1f2629", "#e9e6dc"),
    "quiet": Role("#525d5e", "#a9b2af"),
    "rule": Role("#cfcbbc", "#3d4749"),
    "accent": Role("#0a5a4c", "#7fd1b9"),
    "caution": Role("#8a4b00", "#f0b46a"),
    "tide": Role("#0a4560", "#4fa3d1"),
    "brick": Role("#a83a1c", "#e8744a"),
    "heather": Role("#9a72c8", "#d6c2fb"),
    "moss": Role("#8d8a10", "#dcd95c"),
}


@dataclass(frozen=True)
class Series:
    """How one series is drawn: colour, dashes and marker, all three of its own.

    Parameters
    ----------
    colour : str
        Light colour; the page exchanges it for that of the reader's dress.
    dashes : str or tuple
        As matplotlib takes them.
    marker : str
    """

    colour: str
    dashes: str | tuple[float, tuple[float, ...]]
    marker: str


SERIES: tuple[Series, ...] = (
    Series(ROLES["tide"].light, "-", "o"),
    Series(ROLES["brick"].light, (0.0, (5.0, 2.0)), "s"),
    Series(ROLES["heather"].light, (0.0, (1.2, 1.6)), "^"),
    Series(ROLES["moss"].light, (0.0, (7.0, 2.0, 1.5, 2.0)), "D"),
)
"""Series in the order in which they are taken; a figure with more than four is split."""


def ink(role: str) -> str:
    """Colour to draw a role with.

    Examples
    --------
    >>> ink("ink")
    '#1f2629'
    """
    return ROLES[role].light


def style_variables() -> str:
    """Style rules that give each role its colour, light, dark and in print."""
    light = " ".join(f"--{name}: {role.light};" for name, role in ROLES.items())
    dark = " ".join(f"--{name}: {role.dark};" for name, role in ROLES.items())
    return (
        f":root {{ color-scheme: light dark; {light} }}\n"
        f"@media screen and (prefers-color-scheme: dark) {{ :root {{ {dark} }} }}\n"
        "@media print { :root { color-scheme: light; } }"
    )


_VARIABLE = {role.light: f"var(--{name})" for name, role in ROLES.items()}


def dressed(style: str) -> str:
    """Style of a drawn part with its colours exchanged for those of the page.

    Examples
    --------
    >>> dressed("stroke: #1f2629; fill: none")
    'stroke: var(--ink); fill: none'
    """
    for colour, variable in _VARIABLE.items():
        style = style.replace(colour, variable)
    return style


def undressed(style: str) -> str:
    """Style with the page's colours exchanged for their light ones.

    Examples
    --------
    >>> undressed("stroke: var(--ink); fill: none")
    'stroke: #1f2629; fill: none'
    """
    for colour, variable in _VARIABLE.items():
        style = style.replace(variable, colour)
    return style


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
    root.attrib |= {
        "viewBox": f"0 0 {width} {height}", "xmlns": "http://www.w3.org/2000/svg",
        "xmlns:xlink": "http://www.w3.org/1999/xlink", "width": width, "height": height,
        "font-family": "DejaVu Sans, Verdana, sans-serif",
    }  # fmt: skip
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
    named = f"{key}-title {key}-alt"
    root.attrib |= {"viewBox": f"0 0 {width:g} {height:g}", "role": "img", "aria-labelledby": named}
    root.tag = "svg"
    for name, words in (("title", title), ("desc", alt)):
        told = ET.SubElement(root, name, {"id": f"{key}-{name.replace('desc', 'alt')}"})
        told.text = words
    for part in parts:
        if not part.tag.endswith("metadata") and not _is_style(part):
            root.append(part)
    _drop_invisible(root)
    targets = dict.fromkeys(one.get("id", "") for one in root.iter() if _is_target(one))
    names = {name: f"{key}-{number}" for number, name in enumerate(targets)}
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


MOST_MONTHS = 6
SMALL = 10.5
"""Letters of labels inside a panel."""


def month_axis(
    axes: Axes,
    first: date,
    last: date,
    reader: Reader,
    *,
    words: bool = True,
    most: int = MOST_MONTHS,
) -> None:
    """Let an axis run from a day to another with a mark at the beginning of each month.

    Parameters
    ----------
    axes : Axes
        Its horizontal values are days as ``date.toordinal``.
    first, last : date
    reader : Reader
    words : bool
        Write the months; otherwise only mark them, for a figure with another axis below.
    most : int
        Months that are written at most.
    """
    axes.set_xlim(first.toordinal(), last.toordinal())
    starts = _month_starts(first, last)
    for day in starts:
        axes.axvline(day.toordinal(), color=ink("rule"), linewidth=0.7, zorder=0)
    step = 1 + (len(starts) - 1) // most if starts else 1
    shown = starts[::step]
    names = [
        reader.short_month(day)
        + (f"\n{day.year}" if number == 0 or day.year != shown[number - 1].year else "\n")
        for number, day in enumerate(shown)
    ]
    places = [day.toordinal() for day in shown]
    axes.set_xticks(places, names if words else [""] * len(names), ha="left")


def _month_starts(first: date, last: date) -> list[date]:
    day = first.replace(day=1)
    found = []
    while day <= last:
        if day >= first:
            found.append(day)
        day = (day + timedelta(days=32)).replace(day=1)
    return found


def as_of_line(axes: Axes, issue_date: date, label: str = "") -> None:
    """Draw the day of issue: what is left of it was observed, what is right of it is forecast."""
    low, high = axes.get_xlim()
    place = issue_date.toordinal()
    if not low <= place <= high:
        return
    axes.axvline(place, color=ink("accent"), linewidth=1.4, linestyle=(0.0, (2.0, 2.0)), zorder=3)
    if label:
        right = place > low + 0.7 * (high - low)
        axes.annotate(
            label, (place, 1.0), xycoords=("data", "axes fraction"),
            xytext=(-4 if right else 4, -2), textcoords="offset points",
            ha="right" if right else "left", va="top", color=ink("accent"),
        )  # fmt: skip


def head(axes: Axes, words: str) -> None:
    """Write the head of a panel above it, from the left edge of the drawing.

    It says what the vertical axis counts, with its unit: upright text, which is easier to read than
    text on its side. Its place is stated, for finding one costs matplotlib a fifth of its time.
    """
    figure = axes.get_figure(root=True)
    assert figure is not None
    place = axes.get_position()
    axes.set_title(words, x=-(place.x0 - 4.0 / (72.0 * figure.get_figwidth())) / place.width, y=1.0)


def label(
    axes: Axes, words: str, at: tuple[float, float], *, below: bool = False, left: bool = False
) -> None:
    """Write the name of a line beside one of its points."""
    axes.annotate(
        words, at, xytext=(-5 if left else 5, -4 if below else 4), textcoords="offset points",
        ha="right" if left else "left", va="top" if below else "bottom", color=ink("ink"),
        fontsize=SMALL,
    )  # fmt: skip


def plain_numbers(axes: Axes, reader: Reader, digits: int = 0) -> None:
    """Write the numbers of the vertical axis as the language does."""
    from matplotlib.ticker import FuncFormatter, MaxNLocator

    axes.yaxis.set_major_locator(MaxNLocator(nbins=5, min_n_ticks=3, integer=digits == 0))
    axes.yaxis.set_major_formatter(FuncFormatter(lambda value, _: reader.number(value, digits)))


def percents(axes: Axes, reader: Reader) -> None:
    """Write the shares of the vertical axis as percent; nothing finer than one in a hundred."""
    from matplotlib.ticker import FuncFormatter, MaxNLocator

    axes.yaxis.set_major_locator(MaxNLocator(nbins=4, min_n_ticks=3, steps=[1, 2, 2.5, 5, 10]))
    axes.yaxis.set_major_formatter(FuncFormatter(lambda value, _: reader.percent(value)))
