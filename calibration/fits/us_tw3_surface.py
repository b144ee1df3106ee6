"""Surface and soil of a fallow field, predicted from its weather: US-Tw3 against the bed's balance.

    python calibration/fits/us_tw3_surface.py [FOLDER_WITH_THE_SLICES]

Prints the tables of us_tw3_surface.md. What is told to the model about the site: soil "clay loam",
its water in the top (mean of the probe over the days that are not scored), the albedo (short-wave
out over in, same days), and whether the stubble is taken as a tight cover on the soil or as none.
Everything else is the shipped default. The straight lines are fitted twice: on the days that are
not scored, and on the scored days themselves, which flatters them.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd

from phenocast.crown import BedForcing, bed_records, bed_temperatures, deep_temperature
from phenocast.parameters import bed, films, soils

SIGMA = 5.670374e-8
EMITTANCE = 0.95  # that of the shipped bare soil
SLICES = {"2014": ("us_tw3_2014_winter.csv", 10), "2015": ("us_tw3_2015_winter.csv", 8)}
# Depths of the five soil sensors [m], recalled; their daily ranges agree with them.
DEPTHS = (0.02, 0.04, 0.08, 0.16, 0.32)


@dataclass(frozen=True)
class Case:
    """One winter: what was measured, and which hours are scored."""

    table: pd.DataFrame
    scored: np.ndarray
    hour: np.ndarray
    measured: dict[str, np.ndarray]


def read_case(folder: Path, name: str) -> Case:
    """Return one winter with its radiometric surface and soil at 5 and 10 cm."""
    file, days_told = SLICES[name]
    table = pd.read_csv(folder / file, index_col=0, parse_dates=True)
    scored = np.arange(len(table)) >= 24 * days_told
    surface = (
        (table.LW_OUT - (1 - EMITTANCE) * table.LW_IN) / (EMITTANCE * SIGMA)
    ) ** 0.25 - 273.15
    probes = table[[f"TS_1_{i}_1" for i in range(1, 6)]].to_numpy()
    at = {d: np.array([np.interp(d, DEPTHS, row) for row in probes]) for d in (0.05, 0.10)}
    measured = {"surface": surface.to_numpy(), "soil 5 cm": at[0.05], "soil 10 cm": at[0.10]}
    return Case(table, scored, table.index.hour.to_numpy(), measured)


def predict(case: Case, *, covered: bool) -> dict[str, np.ndarray]:
    """Return surface and soil [degC] from the weather and the site's facts."""
    t, told = case.table, ~case.scored
    vapour = 0.6108 * np.exp(17.27 * t.TA / (t.TA + 237.3)) * t.RH / 100
    forcing = BedForcing(
        air_c=t.TA.to_numpy(),
        vapour_pressure_kpa=vapour.to_numpy(),
        wind_m_s=t.WS.to_numpy(),
        solar_w_m2=t.SW_IN.clip(lower=0).to_numpy(),
        longwave_down_w_m2=t.LW_IN.to_numpy(),
        deep_c=deep_temperature(t.TA.to_numpy()),
        longwave_estimated=np.zeros(len(t)),
    )
    facts = {"solar_reflectance": t.SW_OUT[told].sum() / t.SW_IN[told].sum()}
    if covered:
        facts["contact_conductance"] = bed().value("contact_conductance")
    record = bed_records(
        films()["bare-soil"].with_values(facts),
        bed(),
        soils()["clay loam"],
        water_m3_m3=t.SWC_1_1_1[told].mean() / 100,
    )[0]
    none = np.zeros(len(t))
    got = bed_temperatures(forcing, none, none, record)
    return {
        "surface": got.film_surface_c,
        "soil 5 cm": got.soil_5cm_c,
        "soil 10 cm": got.soil_10cm_c,
    }


def line(case: Case, what: str, days: np.ndarray) -> np.ndarray:
    """Least-squares line on air temperature and solar radiation."""
    t = case.table
    design = np.column_stack([np.ones(len(t)), t.TA, t.SW_IN])
    fitted = np.linalg.lstsq(design[days], case.measured[what][days], rcond=None)[0]
    return design @ fitted


def score(case: Case, what: str, predicted: np.ndarray) -> tuple[float, float]:
    """Return root mean square error and bias over the scored hours [degC]."""
    error = (predicted - case.measured[what])[case.scored]
    return float(np.sqrt(np.mean(error**2))), float(error.mean())


def rows(case: Case) -> dict[str, dict[str, tuple[float, float]]]:
    """Return scores by predictor and by what is predicted."""
    covered, bare = predict(case, covered=True), predict(case, covered=False)
    table: dict[str, dict[str, tuple[float, float]]] = {}
    for what in case.measured:
        table[what] = {
            "air": score(case, what, case.table.TA.to_numpy()),
            "line, other days": score(case, what, line(case, what, ~case.scored)),
            "line, same days": score(case, what, line(case, what, case.scored)),
            "balance, stubble as tight cover": score(case, what, covered[what]),
            "balance, bare soil": score(case, what, bare[what]),
        }
    return table


def main(folder: Path) -> None:
    """Print both winters."""
    for name in SLICES:
        case = read_case(folder, name)
        print(f"\n## {name}: {int(case.scored.sum() / 24)} days scored\n")
        print("| predicted | by | RMSE | bias |\n|---|---|---|---|")
        for what, scores in rows(case).items():
            for by, (rmse, bias) in scores.items():
                print(f"| {what} | {by} | {rmse:.2f} | {bias:+.2f} |")
        got = predict(case, covered=True)
        print("\nBias by hour of the day (UTC-8), stubble as tight cover [degC]:\n")
        print("| hour | " + " | ".join(str(h) for h in range(24)) + " |")
        print("|---" * 25 + "|")
        for what, values in got.items():
            error = (values - case.measured[what])[case.scored]
            by_hour = [error[case.hour[case.scored] == h].mean() for h in range(24)]
            print(f"| {what} | " + " | ".join(f"{e:+.1f}" for e in by_hour) + " |")


if __name__ == "__main__":
    here = Path(__file__).resolve().parents[2] / "tests" / "published" / "data"
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else here)
