"""Numbers as a language writes them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

NO_BREAK = "\u00a0"
MINUS = "\u2212"
ABSENT = "\u2013"


@dataclass(frozen=True)
class NumberFormat:
    """How a language writes numbers.

    Parameters
    ----------
    decimal, thousands : str
        Marks before decimals and between groups of three digits.
    grouped_from : int
        Digits before the decimal mark from which groups are marked.
    before_percent : str
        What stands between a number and its percent sign.
    """

    decimal: str
    thousands: str
    grouped_from: int
    before_percent: str

    def number(self, value: float | None, digits: int = 0) -> str:
        """Number with a fixed count of decimals; a dash where there is none.

        Examples
        --------
        >>> FORMATS["en"].number(12345.678, 1), FORMATS["es"].number(-1234.5, 1)
        ('12,345.7', '−1234,5')
        >>> FORMATS["en"].number(-0.04, 1), FORMATS["en"].number(None)
        ('0.0', '–')
        """
        if value is None:
            return ABSENT
        whole, _, decimals = f"{abs(value):.{digits}f}".partition(".")
        negative = value < 0 and (whole.strip("0") or decimals.strip("0"))
        if len(whole) >= self.grouped_from:
            whole = f"{int(whole):,}".replace(",", self.thousands)
        return (MINUS if negative else "") + whole + (self.decimal + decimals if decimals else "")

    def percent(self, share: float | None) -> str:
        """Share as whole percent; what is not quite none or all never looks as if it were.

        Examples
        --------
        >>> FORMATS["en"].percent(0.2), FORMATS["en"].percent(0.004), FORMATS["en"].percent(0.9999)
        ('20%', '<1%', '>99%')
        >>> FORMATS["en"].percent(-0.12)
        '−12%'
        """
        if share is None:
            return ABSENT
        if 0.0 < share < 0.01:
            return f"<1{self.before_percent}%"
        if 0.99 < share < 1.0:
            return f">99{self.before_percent}%"
        return f"{self.number(100.0 * share)}{self.before_percent}%"


FORMATS: Mapping[str, NumberFormat] = {
    "en": NumberFormat(".", ",", 4, ""),
    "es": NumberFormat(",", NO_BREAK, 5, NO_BREAK),
}
