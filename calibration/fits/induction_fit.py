"""Fit the induction response to published growth-chamber tables, and predict others from it.

Run from a checkout, with the package installed:

    python calibration/fits/induction_fit.py

It reads ``tests/published/data/initiation_treatments.csv`` and writes ``induction_fit.json`` and
``induction_fit.md`` beside itself. Nothing is drawn at random: the same table gives the same files.

The model of a treatment held long enough is

    flowers = A * wang_engel(T; base, optimum, ceiling) * photoperiod response(P, T)

fitted by least squares to one cultivar at a time, twice. The free fit shows what the table cannot
tell: its chambers are 2 h and 6 degC apart, so the width of the transition runs to its bound and
the ceiling trades against the critical photoperiod. The steadied fit adds priors on those
directions only (the spans of the shipped archetypes), weighted by the residual spread of the free
fit. The base is held at 0 degC: the coldest chamber was 12 degC. What one source taught is then
asked to predict others.
"""

from __future__ import annotations

import csv
import json
import sys
from pathlib import Path

import numpy as np
from scipy.optimize import brentq, least_squares
from scipy.special import ndtri

from phenocast.phenology.induction import (
    critical_photoperiod,
    photoperiod_response_long_day_promoted,
    photoperiod_response_short_day,
    share_induced,
)
from phenocast.thermal_time import felt_photoperiod_h, wang_engel
from phenocast.verification import wilson_interval

HERE = Path(__file__).resolve().parent
TABLE = HERE.parents[1] / "tests" / "published" / "data" / "initiation_treatments.csv"

BASE_C = 0.0
NAMES = ("flowers_at_best", "optimum_c", "ceiling_c", "critical_18_h", "slope_h_per_c", "width_h")
LOWER = np.array([1.0, 12.0, 24.5, 8.0, 0.0, 0.1])
UPPER = np.array([200.0, 24.0, 36.0, 24.0, 2.0, 6.0])

# Priors of the steadied fit, mean and standard deviation; of the width, on its logarithm.
PRIORS = {"optimum_c": (17.0, 1.5), "ceiling_c": (29.5, 3.0), "width_h": (0.5, 0.8)}

# Held, not fitted, for the predictions of other sources (see calibration/cultivars.toml).
REQUIREMENT_D = 16.0
RELATIVE_SPREAD = 0.3
BREAK_SHORTEST_H = 1.0
DAY_NEUTRAL = {"base": 2.0, "optimum": 20.0, "critical": 13.5, "width": 0.35}
LONG_DAY_KNOTS_C = (9.0, 15.0, 23.0, 28.0)


def read_table(path: Path = TABLE) -> list[dict[str, str]]:
    """Rows of the treatment table."""
    with path.open(newline="", encoding="utf-8") as handle:
        return list(csv.DictReader(handle))


def flower_rows(rows: list[dict[str, str]], source: str, cultivar: str) -> np.ndarray:
    """Temperature [degC], photoperiod [h] and response of one cultivar, as columns."""
    picked = [r for r in rows if r["source_id"] == source and r["cultivar"] == cultivar]
    columns = ("temp_day_c", "photoperiod_h", "value")
    return np.array([[float(r[c]) for c in columns] for r in picked])


def predicted_flowers(parameters: np.ndarray, temperature: np.ndarray, photoperiod: np.ndarray):
    """Flowers per plant of the model; `parameters` in the order of NAMES."""
    best, optimum, ceiling, critical, slope, width = parameters
    response = photoperiod_response_short_day(photoperiod, temperature, critical, slope, width)
    return best * wang_engel(temperature, BASE_C, optimum, ceiling) * response


def prior_residual(parameters: np.ndarray) -> np.ndarray:
    """Distance from the priors in standard deviations."""
    value = dict(zip(NAMES, parameters, strict=True))
    (optimum, sd_o), (ceiling, sd_c), (width, sd_w) = PRIORS.values()
    return np.array(
        [
            (value["optimum_c"] - optimum) / sd_o,
            (value["ceiling_c"] - ceiling) / sd_c,
            np.log(value["width_h"] / width) / sd_w,
        ]
    )


def fit(data: np.ndarray, residual_sd: float | None = None) -> dict[str, object]:
    """Fit one cultivar from a grid of starts, the best kept; with priors where an sd is given."""
    temperature, photoperiod, flowers = data.T

    def residual(parameters: np.ndarray) -> np.ndarray:
        errors = predicted_flowers(parameters, temperature, photoperiod) - flowers
        if residual_sd is None:
            return errors
        return np.concatenate([errors / residual_sd, prior_residual(parameters)])

    best = None
    for optimum, ceiling in ((15.0, 28.0), (18.0, 32.0)):
        for critical in (12.0, 14.0, 18.0):
            for slope, width in ((0.4, 0.4), (0.8, 2.0)):
                start = [flowers.max(), optimum, ceiling, critical, slope, width]
                result = least_squares(
                    residual,
                    start,
                    bounds=(LOWER, UPPER),
                    x_scale=[10, 1, 1, 1, 0.1, 0.3],
                    xtol=1e-12,
                    ftol=1e-12,
                    gtol=1e-12,
                    max_nfev=2000,
                )
                if best is None or result.cost < best.cost - 1e-9:
                    best = result
    errors = predicted_flowers(best.x, temperature, photoperiod) - flowers
    freedom = flowers.size - best.x.size
    scale = errors @ errors / freedom if residual_sd is None else 1.0
    spread = np.sqrt(np.diag(np.linalg.pinv(best.jac.T @ best.jac) * scale))
    at_bound = (best.x - LOWER < 1e-3 * (UPPER - LOWER)) | (UPPER - best.x < 1e-3 * (UPPER - LOWER))
    return {
        "parameters": dict(zip(NAMES, best.x.tolist(), strict=True)),
        "standard_errors": {
            name: None if stuck or se > 50.0 else float(se)
            for name, se, stuck in zip(NAMES, spread, at_bound, strict=True)
        },
        "at_bound": [name for name, stuck in zip(NAMES, at_bound, strict=True) if stuck],
        "rmse_flowers": float(np.sqrt(np.mean(errors**2))),
        "residual_sd_flowers": float(np.sqrt(errors @ errors / freedom)),
        "rows": [
            {"temperature_c": t, "photoperiod_h": p, "observed": y, "fitted": y + e}
            for (t, p, y), e in zip(data.tolist(), errors.tolist(), strict=True)
        ],
    }


def left_out_error(data: np.ndarray, residual_sd: float) -> float:
    """Root mean square error of each treatment predicted from a fit to all the others."""
    errors = []
    for out in range(len(data)):
        kept = fit(np.delete(data, out, axis=0), residual_sd)["parameters"]
        values = np.array([kept[name] for name in NAMES])
        errors.append(float(predicted_flowers(values, data[out, 0], data[out, 1]) - data[out, 2]))
    return float(np.sqrt(np.mean(np.square(errors))))


def half_of_short_day(data: np.ndarray, parameters: np.ndarray) -> list[dict[str, object]]:
    """Photoperiod at half of the value in the shortest days, per temperature: table and model.

    The table's is read on straight lines between its treatments. The model's is the crossing of its
    curve; "critical" is the middle of the transition itself.
    """
    found = []
    for temperature in np.unique(data[:, 0]):
        rows = data[data[:, 0] == temperature]
        rows = rows[np.argsort(rows[:, 1])]
        hours, flowers = rows[:, 1], rows[:, 2]
        half = flowers[0] / 2.0
        below = np.flatnonzero(flowers < half)
        observed = None
        if below.size:
            j = int(below[0])
            share = (flowers[j - 1] - half) / (flowers[j - 1] - flowers[j])
            observed = float(hours[j - 1] + share * (hours[j] - hours[j - 1]))
        first = predicted_flowers(parameters, temperature, hours[0])

        def excess(p: float, t: float = temperature, level: float = float(first) / 2.0) -> float:
            return float(predicted_flowers(parameters, t, np.asarray(p))) - level

        reached = excess(24.0) < 0.0
        found.append(
            {
                "temperature_c": float(temperature),
                "observed_h": observed,
                "model_h": float(brentq(excess, hours[0], 24.0)) if reached else None,
                "critical_h": float(critical_photoperiod(temperature, *parameters[3:5])),
            }
        )
    return found


def predicted_shares(rows: list[dict[str, str]], parameters: dict[str, float]) -> list[dict]:
    """Plants flowering of 12 after 35 days (Sonsteby and Heide 2006), from another source's fit."""
    out = []
    for r in rows:
        if r["source_id"] != "sonsteby_heide2006_table4":
            continue
        t, p = float(r["temp_day_c"]), float(r["photoperiod_h"])
        rate = wang_engel(
            t, BASE_C, parameters["optimum_c"], parameters["ceiling_c"]
        ) * photoperiod_response_short_day(
            p, t, parameters["critical_18_h"], parameters["slope_h_per_c"], parameters["width_h"]
        )
        share = float(share_induced(35.0 * rate, REQUIREMENT_D, RELATIVE_SPREAD))
        out.append(
            {
                "cultivar": r["cultivar"],
                "temperature_c": t,
                "photoperiod_h": p,
                "observed_of_12": float(r["value"]),
                "predicted_of_12": 12.0 * share,
            }
        )
    return out


def ceiling_from_share(
    rows: list[dict[str, str]], parameters: dict[str, float], cultivar: str
) -> dict[str, float]:
    """Ceiling with which the response gives the share seen at 27 degC and 10 h, with its range.

    A 10 h day is taken as fully short for these cultivars, as it was at 9 to 21 degC. The share is
    known to a binomial interval (Wilson, 95 %) only, and so is the ceiling.
    """
    picked = [
        r
        for r in rows
        if r["source_id"] == "sonsteby_heide2006_table4"
        and r["cultivar"] == cultivar
        and float(r["temp_day_c"]) == 27.0
        and float(r["photoperiod_h"]) == 10.0
    ]
    seen = wilson_interval(int(float(picked[0]["value"])), 12)

    def ceiling(share: float) -> float:
        need = REQUIREMENT_D * (1.0 + RELATIVE_SPREAD * float(ndtri(share))) / 35.0
        return float(
            brentq(
                lambda c: float(wang_engel(27.0, BASE_C, parameters["optimum_c"], c)) - need,
                27.0 + 1e-9,
                60.0,
            )
        )

    return {
        "observed_of_12": float(picked[0]["value"]),
        "ceiling_c": ceiling(seen.share),
        "ceiling_lower_c": ceiling(seen.lower),
        "ceiling_upper_c": ceiling(seen.upper),
    }


def durner_rows(
    rows: list[dict[str, str]], cultivar: str
) -> list[tuple[float, float, float, float]]:
    """Day and night temperature [degC], photoperiod felt [h], inflorescences."""
    out = []
    for r in rows:
        if r["source_id"] != "durner1984_table4" or r["cultivar"] != cultivar:
            continue
        felt = 9.0
        if r["photoperiod_h"].endswith("+NI"):  # a 9 h day, and 3 h of light amid the night
            felt = float(
                felt_photoperiod_h(
                    7.5, 16.5, lamps=[(22.5, 1.5)], shortest_break_h=BREAK_SHORTEST_H
                )
            )
        out.append((float(r["temp_day_c"]), float(r["temp_night_c"]), felt, float(r["value"])))
    return out


def predicted_june_bearer(
    rows: list[dict[str, str]], parameters: dict[str, float]
) -> list[dict[str, float]]:
    """Durner's June-bearer from another source's fit, scaled so that the largest cell agrees."""
    treatments = durner_rows(rows, "june-bearer")
    day, night, felt, observed = np.array(treatments).T
    cardinals = (BASE_C, parameters["optimum_c"], parameters["ceiling_c"])
    warmth = (wang_engel(day, *cardinals) + wang_engel(night, *cardinals)) / 2.0
    relative = warmth * photoperiod_response_short_day(
        felt,
        (day + night) / 2.0,
        parameters["critical_18_h"],
        parameters["slope_h_per_c"],
        parameters["width_h"],
    )
    predicted = relative * observed.max() / relative.max()
    return [
        {"day_c": d, "night_c": n, "photoperiod_felt_h": f, "observed": o, "predicted": q}
        for (d, n, f, o), q in zip(treatments, predicted.tolist(), strict=True)
    ]


def fit_day_neutral(rows: list[dict[str, str]]) -> dict[str, object]:
    """Scale, strength of the long-day promotion and ceiling of Durner's day-neutral type."""
    treatments = durner_rows(rows, "day-neutral")
    day, night, felt, observed = np.array(treatments).T

    def predicted(parameters: np.ndarray) -> np.ndarray:
        scale, plateau, ceiling = parameters
        cardinals = (DAY_NEUTRAL["base"], DAY_NEUTRAL["optimum"], ceiling)
        warmth = (wang_engel(day, *cardinals) + wang_engel(night, *cardinals)) / 2.0
        return (
            scale
            * warmth
            * photoperiod_response_long_day_promoted(
                felt,
                (day + night) / 2.0,
                DAY_NEUTRAL["critical"],
                DAY_NEUTRAL["width"],
                *LONG_DAY_KNOTS_C,
                float(plateau),
            )
        )

    result = least_squares(
        lambda x: predicted(x) - observed,
        [5.0, 0.5, 31.0],
        bounds=([0.1, 0.0, 26.5], [50.0, 1.0, 38.0]),
        xtol=1e-12,
    )
    freedom = observed.size - 3
    covariance = np.linalg.inv(result.jac.T @ result.jac) * (result.fun @ result.fun) / freedom
    return {
        "inflorescences_at_best": float(result.x[0]),
        "plateau_strength": float(result.x[1]),
        "plateau_strength_se": float(np.sqrt(covariance[1, 1])),
        "ceiling_c": float(result.x[2]),
        "ceiling_se_c": float(np.sqrt(covariance[2, 2])),
        "rmse": float(np.sqrt(np.mean(result.fun**2))),
        "rows": [
            {"day_c": d, "night_c": n, "photoperiod_felt_h": f, "observed": o, "fitted": o + e}
            for (d, n, f, o), e in zip(treatments, result.fun.tolist(), strict=True)
        ],
    }


def run(path: Path = TABLE) -> dict[str, object]:
    """All fits and predictions."""
    rows = read_table(path)
    report: dict[str, object] = {
        "held": {
            "base_c": BASE_C,
            "requirement_d": REQUIREMENT_D,
            "relative_spread": RELATIVE_SPREAD,
            "day_neutral": DAY_NEUTRAL,
            "long_day_knots_c": list(LONG_DAY_KNOTS_C),
        }
    }
    fits = {}
    for cultivar in ("Abundance", "Zefyr"):
        data = flower_rows(rows, "heide1977_fig2", cultivar)
        free = fit(data)
        noise = free["residual_sd_flowers"]
        steadied = fit(data, noise)
        values = np.array([steadied["parameters"][name] for name in NAMES])
        steadied["left_out_rmse_flowers"] = left_out_error(data, noise)
        steadied["mean_only_rmse_flowers"] = float(np.std(data[:, 2]))
        steadied["half_of_short_day"] = half_of_short_day(data, values)
        fits[cultivar] = {"free": free, "steadied": steadied}
    report["fitted_to_heide1977"] = fits
    kept = {cultivar: fitted["steadied"]["parameters"] for cultivar, fitted in fits.items()}
    report["predicted_sonsteby_heide2006"] = {
        cultivar: predicted_shares(rows, parameters) for cultivar, parameters in kept.items()
    }
    report["ceiling_from_share_at_27_c"] = {
        cultivar: ceiling_from_share(rows, kept["Abundance"], cultivar)
        for cultivar in ("Elsanta", "Korona")
    }
    report["predicted_durner1984_june_bearer"] = {
        cultivar: predicted_june_bearer(rows, parameters) for cultivar, parameters in kept.items()
    }
    report["fitted_to_durner1984_day_neutral"] = fit_day_neutral(rows)
    return report


def rounded(value: object) -> object:
    """The report with numbers to six significant digits, so that machines agree on the file."""
    if isinstance(value, dict):
        return {key: rounded(item) for key, item in value.items()}
    if isinstance(value, list):
        return [rounded(item) for item in value]
    if isinstance(value, float):
        return 0.0 if abs(value) < 1e-6 else float(f"{value:.6g}")
    return value


def main() -> int:
    """Write the two result files."""
    if not TABLE.exists():
        sys.stderr.write(f"{TABLE} is missing: run this from a checkout of the repository\n")
        return 3
    from induction_report import as_text  # beside this file

    report = rounded(run())
    (HERE / "induction_fit.json").write_text(json.dumps(report, indent=1) + "\n", encoding="utf-8")
    (HERE / "induction_fit.md").write_text(as_text(report), encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
