"""The colours of a page, chosen for this project, in a light and a dark dress.

The four colours of series differ in lightness as well as in hue, so that they stay apart for
readers with any of the three colour vision deficiencies (a test simulates them); and no series is
told by its colour alone: each has dashes and a marker of its own, and a label beside it.
"""

from __future__ import annotations

from dataclasses import dataclass


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
