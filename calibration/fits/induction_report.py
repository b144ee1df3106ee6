"""The induction fit as text; see induction_fit.py, which calls this."""

from __future__ import annotations

HEAD = """# Induction response: fits to published chamber tables, and predictions from them

Made by `python calibration/fits/induction_fit.py` from
`tests/published/data/initiation_treatments.csv` (Heide 1977; Sonsteby and Heide 2006; Durner et al.
1984, as digitised in an open data set). Do not edit by hand: a test makes it again and compares.

Model: flowers = A x Wang-Engel(T; 0, optimum, ceiling) x 1 / (1 + exp((P - Pc) / width)),
Pc = Pc18 - slope (clip(T, 9, 24) - 18).
"""

LIMITS = """
## What to make of it

* The response reproduces the critical photoperiods of Heide (1977) within 0.6 h; the treatments are
  2 h apart. It needs every one of them: left out, the treatments on the transition are missed by
  much (8.7 and 6.5 flowers on average over all). The width leans on its prior.
* The fit to Abundance says which of Sonsteby and Heide's cells flower in full and which not at all
  (14 of 16), and fails at 27 degC in short days: those cultivars bear more heat than Abundance. The
  fit to Zefyr, a cultivar with a weak photoperiod response, predicts flowers in 24 h days that were
  not there. Photoperiod and ceiling belong to a cultivar; neither fit may stand for another.
* Durner's June-bearer is not predicted by either fit: it flowered as much under a night break as in
  short days at 18/14 degC (as Zefyr would), and hardly at 22/18 degC (as neither would).
* The day-neutral type of Durner et al. loses its flowers in short days more steeply between 16 and
  24 degC than the plateau form allows; other published day-neutral types do flower in short days at
  22 degC, so the plateau stays, with its spread.
* Requirement (16 days at the optimum) and plant-to-plant spread (0.3) were held, not fitted: one
  duration per source cannot tell them from the rate.
"""


def as_text(report: dict) -> str:
    """Markdown of the whole report."""
    parts = [HEAD]
    for cultivar, fits in report["fitted_to_heide1977"].items():
        parts += _fitted(cultivar, fits)
    parts += _shares(report)
    parts += _june_bearer(report["predicted_durner1984_june_bearer"])
    parts += _day_neutral(report["fitted_to_durner1984_day_neutral"])
    parts.append(LIMITS)
    return "\n".join(parts)


def _fitted(cultivar: str, fits: dict) -> list[str]:
    steadied, free = fits["steadied"], fits["free"]
    out = [
        f"## {cultivar} (Heide 1977)",
        "",
        "| parameter | steadied | s.e. | free | s.e. |",
        "|---|---|---|---|---|",
    ]
    for name, value in steadied["parameters"].items():
        out.append(
            f"| {name} | {value:.2f} | {_se(steadied, name)} "
            f"| {free['parameters'][name]:.2f} | {_se(free, name)} |"
        )
    out += [
        "",
        (
            f"RMSE {steadied['rmse_flowers']:.2f} flowers per plant "
            f"(free fit {free['rmse_flowers']:.2f}; "
            f"each treatment left out in turn {steadied['left_out_rmse_flowers']:.2f}; "
            f"mean of the table {steadied['mean_only_rmse_flowers']:.2f})."
        ),
        "",
        "| temperature degC | half of the short-day value: table, h | model, h | Pc, h |",
        "|---|---|---|---|",
    ]
    for row in steadied["half_of_short_day"]:
        out.append(
            f"| {row['temperature_c']:.0f} | {_hours(row['observed_h'])} | "
            f"{_hours(row['model_h'])} "
            f"| {row['critical_h']:.1f} |"
        )
    out += [
        "",
        "| temperature degC | photoperiod h | observed | fitted | residual |",
        "|---|---|---|---|---|",
    ]
    for row in steadied["rows"]:
        out.append(
            f"| {row['temperature_c']:.0f} | {row['photoperiod_h']:.0f} | {row['observed']:.1f} "
            f"| {row['fitted']:.1f} | {row['fitted'] - row['observed']:+.1f} |"
        )
    return [*out, ""]


def _shares(report: dict) -> list[str]:
    by_source = report["predicted_sonsteby_heide2006"]
    out = [
        "## Predicted: plants flowering of 12 after 35 days (Sonsteby and Heide 2006)",
        "",
        "| cultivar | temperature degC | photoperiod h | observed | from Abundance | from Zefyr |",
        "|---|---|---|---|---|---|",
    ]
    for one, other in zip(by_source["Abundance"], by_source["Zefyr"], strict=True):
        out.append(
            f"| {one['cultivar']} | {one['temperature_c']:.0f} | {one['photoperiod_h']:.0f} "
            f"| {one['observed_of_12']:.0f} | {one['predicted_of_12']:.1f} "
            f"| {other['predicted_of_12']:.1f} |"
        )
    out += ["", "Ceiling that gives the share seen at 27 degC and 10 h:", ""]
    for cultivar, row in report["ceiling_from_share_at_27_c"].items():
        out.append(
            f"* {cultivar}: {row['ceiling_c']:.1f} degC "
            f"({row['ceiling_lower_c']:.1f} to {row['ceiling_upper_c']:.1f})"
        )
    return [*out, ""]


def _june_bearer(predicted: dict) -> list[str]:
    out = [
        "## Predicted: inflorescences of a June-bearer (Durner et al. 1984)",
        "",
        "Scaled to the largest cell; a 9 h day with a 3 h night break is felt as 18 h.",
        "",
        "| day/night degC | photoperiod felt h | observed | from Abundance | from Zefyr |",
        "|---|---|---|---|---|",
    ]
    for one, other in zip(predicted["Abundance"], predicted["Zefyr"], strict=True):
        out.append(
            f"| {one['day_c']:.0f}/{one['night_c']:.0f} | {one['photoperiod_felt_h']:.0f} "
            f"| {one['observed']:.1f} | {one['predicted']:.1f} | {other['predicted']:.1f} |"
        )
    return [*out, ""]


def _day_neutral(fit: dict) -> list[str]:
    out = [
        "## Fitted: inflorescences of a day-neutral type (Durner et al. 1984)",
        "",
        (
            f"Plateau strength {fit['plateau_strength']:.2f} "
            f"(s.e. {fit['plateau_strength_se']:.2f}), "
            f"ceiling {fit['ceiling_c']:.1f} degC (s.e. {fit['ceiling_se_c']:.1f}), RMSE "
            f"{fit['rmse']:.2f} inflorescences."
        ),
        "",
        "| day/night degC | photoperiod felt h | observed | fitted | residual |",
        "|---|---|---|---|---|",
    ]
    out.extend(
        f"| {row['day_c']:.0f}/{row['night_c']:.0f} | {row['photoperiod_felt_h']:.0f} "
        f"| {row['observed']:.1f} | {row['fitted']:.1f} "
        f"| {row['fitted'] - row['observed']:+.1f} |"
        for row in fit["rows"]
    )
    return out


def _se(fit: dict, name: str) -> str:
    se = fit["standard_errors"][name]
    return (
        "at its bound"
        if name in fit["at_bound"]
        else "not determined"
        if se is None
        else f"{se:.2f}"
    )


def _hours(value: float | None) -> str:
    return "beyond 24" if value is None else f"{value:.1f}"
