"""After the harvest: measured ruts against the rule and against what was predicted."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy.spatial import cKDTree
from scipy.stats import norm

from terrain.decision.intervals import share_interval
from terrain.decision.results import Plan
from terrain.decision.rule_check import share_verdict
from terrain.decision.ruts import RUT_CLASSES, organic_stations, rut_class, threshold_cm
from terrain.errors import InputRefused, Issue, RutwiseError
from terrain.models.site_rules import RuleProfile

__all__ = [
    "ISSUE_CODES",
    "SurveyResult",
    "compare_survey",
    "hit_table",
    "sample_size",
]

ISSUE_CODES = {
    "SVY06": "a row of the survey lies off the trails",
    "SVY07": "a row of the survey names a trail or chainage that is not there",
    "SVY08": "no row of the survey can be compared with the plan",
    "SVY09": "the setup that was driven is not one of the scored ones",
}
"""Issue codes of this module and what they stand for."""

MOST_OFF_M = 10.0
"""A record this far from every station is not on a trail, metres (planning assumption)."""

FEWEST_FOR_A_HINT = 10
"""Records that a hint for the next block needs (planning assumption)."""


@dataclass(frozen=True, slots=True)
class SurveyResult:
    """Measured against rule and prediction.

    Attributes
    ----------
    records : DataFrame
        The used records of after the harvest with ``station``, ``predicted_class``,
        ``measured_class`` (1 to 4; predicted 0 is not predicted), ``counts`` (beyond the rule's
        depth and length; NA where the rule gives none).
    classes : DataFrame
        See :func:`hit_table`.
    before_after : DataFrame
        By ``when``: ``records``, ``length_m``, ``mean_depth_cm``, ``type_1``, ``type_2``,
        ``type_3`` (records), ``counts_m`` (metres).
    surveyed_m, judged_m, counts_m : float
        Metres of record after the harvest; of them those for which the rule gives a depth (0
        without a rule); of these the metres that count by the rule.
    share, share_low, share_high : float
        Share of ``judged_m`` that counts, and its 95 % interval over records; NaN where
        ``judged_m`` is 0.
    verdict, hint : str
    issues : tuple of Issue
    """

    records: pd.DataFrame
    classes: pd.DataFrame
    before_after: pd.DataFrame
    surveyed_m: float
    judged_m: float
    counts_m: float
    share: float
    share_low: float
    share_high: float
    verdict: str
    hint: str
    issues: tuple[Issue, ...]


def compare_survey(plan: Plan, survey: pd.DataFrame, setup: str | None = None) -> SurveyResult:
    """Hold a survey against the plan's rule and ruts.

    Parameters
    ----------
    plan : Plan
        With ``ruts`` and ``check_sheet``.
    survey : DataFrame
        Of :func:`terrain.inputs.survey.read_survey`; depths in cm, lengths in metres.
    setup : str, optional
        The setup that was driven; None: the shown one.

    Raises
    ------
    InputRefused
        SVY08: no record lies on the trails, or none is of after the harvest. SVY09: ``setup`` is
        not one of the plan's setups.
    RutwiseError
        When the plan has no ruts.
    """
    ruts, sheet = plan.ruts, plan.check_sheet
    if ruts is None or sheet is None:
        raise RutwiseError("the plan holds no ruts to compare with")
    driven = plan.ranking.shown if setup is None else setup
    if driven not in ruts.setups:
        what, fix = f"no scored setup is called {driven!r}", f"Setups: {', '.join(ruts.setups)}."
        raise InputRefused([Issue("SVY09", "error", what, "--setup", fix)])
    k = ruts.column(driven)
    station, issues = _stations_of(plan, survey)
    table = survey[station >= 0].assign(station=station[station >= 0]).reset_index(drop=True)
    at = _at(table)
    _refuse_nothing_left(table, issues)
    table["predicted_class"] = rut_class(ruts.likely_cm[at, k])
    table["measured_class"] = rut_class(table["depth_cm"])
    table["counts"] = _counts(plan, sheet.profile, table, at)
    after = table[table["when"] == "after"].reset_index(drop=True)
    length = after["length_m"].to_numpy(dtype=float)
    known = after["counts"].notna().to_numpy(dtype=bool)
    counted = after["counts"].fillna(False).to_numpy(dtype=bool)
    judged, counts_m = float(length[known].sum()), float(length[counted].sum())
    share = counts_m / judged if judged > 0 else np.nan
    low, high = (float(end) for end in share_interval(share, int(known.sum())))
    return SurveyResult(
        records=after,
        classes=hit_table(
            after["predicted_class"].to_numpy(), after["measured_class"].to_numpy(), length
        ),
        before_after=_before_after(table),
        surveyed_m=float(length.sum()),
        judged_m=judged,
        counts_m=counts_m,
        share=share,
        share_low=low,
        share_high=high,
        verdict=_verdict(sheet.profile, share, low, high),
        hint=_hint(after["depth_cm"].to_numpy(dtype=float), ruts.likely_cm[_at(after), k]),
        issues=tuple(issues),
    )


def _refuse_nothing_left(table: pd.DataFrame, issues: list[Issue]) -> None:
    """Refuse a survey of which no record can be compared; ``issues`` name the rows left out."""
    if (table["when"] == "after").any():
        return
    if table.empty:
        what, fix = "No row lies on the trails of the block.", "Correct the rows named above."
    else:
        what = "Every row on the trails is of before the harvest."
        fix = "Add what was measured after it; leave the column when empty, or write after."
    raise InputRefused([*issues, Issue("SVY08", "error", what, "survey", fix)])


def _at(table: pd.DataFrame) -> NDArray[np.int64]:
    return table["station"].to_numpy(dtype=np.int64)


def _stations_of(plan: Plan, survey: pd.DataFrame) -> tuple[NDArray[np.int64], list[Issue]]:
    """Position of the station of each record, -1 with an issue where there is none."""
    stations = plan.stations
    found = np.full(len(survey), -1, dtype=np.int64)
    chainage = stations["chainage_m"].to_numpy(dtype=float)
    half = stations["length_m"].to_numpy(dtype=float) / 2
    groups = {
        str(name): np.asarray(rows) for name, rows in stations.groupby("trail").indices.items()
    }
    tree = cKDTree(stations[["x_m", "y_m"]].to_numpy(dtype=float))
    off, missing = [], []
    along = survey["chainage_m"].to_numpy(dtype=float)
    places = survey[["x_m", "y_m"]].to_numpy(dtype=float)
    for number, (trail, label) in enumerate(zip(survey["trail"], survey["row"], strict=True)):
        if isinstance(trail, str) and np.isfinite(along[number]):
            rows = groups.get(trail, np.array([], dtype=np.int64))
            gap = np.abs(chainage[rows] - along[number]) - half[rows]
            if len(rows) and gap.min() <= 1.0:
                found[number] = rows[int(np.argmin(gap))]
            else:
                missing.append(f"row {label}")
            continue
        distance, nearest = tree.query(places[number])
        if distance <= MOST_OFF_M:
            found[number] = int(nearest)
        else:
            off.append(f"row {label} ({distance:.0f} m)")
    issues = []
    if off:
        what = f"rows off the trails by more than {MOST_OFF_M:g} m, left out: {', '.join(off)}"
        issues.append(Issue("SVY06", "warning", what, "survey", "Check their coordinates and CRS."))
    if missing:
        what = f"rows on a trail or chainage that is not there, left out: {', '.join(missing)}"
        fix = "Use the trail ids of the block; chainage runs along the trail as drawn."
        issues.append(Issue("SVY07", "warning", what, "survey", fix))
    return found, issues


def _counts(
    plan: Plan, profile: RuleProfile | None, table: pd.DataFrame, at: NDArray[np.int64]
) -> pd.Series:
    """Whether each record counts by the rule; NA where the rule gives no depth there."""
    if profile is None or not profile.is_about_ruts:
        return pd.Series(pd.array([pd.NA] * len(table), dtype="boolean"))
    limit = threshold_cm(profile, organic_stations(plan.stations, plan.soils))[at]
    deep = table["depth_cm"].to_numpy(dtype=float) > limit
    counts = pd.array(
        deep & (table["length_m"].to_numpy(dtype=float) >= profile.min_length_m), dtype="boolean"
    )
    counts[np.isnan(limit)] = pd.NA
    return pd.Series(counts)


def hit_table(
    predicted: NDArray[np.int64], measured: NDArray[np.int64], length_m: NDArray[np.float64]
) -> pd.DataFrame:
    """Hits, misses and false alarms of each rut class.

    Returns
    -------
    DataFrame
        One row a class of :data:`terrain.decision.ruts.RUT_CLASSES`: ``class``, ``hit`` (predicted
        and measured), ``miss`` (measured, another class predicted), ``false_alarm`` (predicted,
        another class measured), each as records and, with ``_m``, as metres; ``not_predicted``
        counts measured records without a prediction, which are neither.
    """
    rows = []
    for number, (_, words) in enumerate(RUT_CLASSES, start=1):
        told = predicted > 0
        masks = {
            "hit": (predicted == number) & (measured == number),
            "miss": told & (predicted != number) & (measured == number),
            "false_alarm": (predicted == number) & (measured != number),
            "not_predicted": ~told & (measured == number),
        }
        row: dict[str, object] = {"class": words}
        for name, mask in masks.items():
            row[name] = int(mask.sum())
            row[f"{name}_m"] = float(length_m[mask].sum())
        rows.append(row)
    return pd.DataFrame(rows)


def _before_after(table: pd.DataFrame) -> pd.DataFrame:
    rows = []
    for when in ("before", "after"):
        part = table[table["when"] == when]
        counted = part["counts"].fillna(False).to_numpy(dtype=bool)
        length = part["length_m"].to_numpy(dtype=float)
        depth = part["depth_cm"].to_numpy(dtype=float)
        rows.append(
            {
                "when": when,
                "records": len(part),
                "length_m": float(length.sum()),
                "mean_depth_cm": float((depth * length).sum() / length.sum())
                if len(part)
                else np.nan,
                **{f"type_{n}": int((part["rut_type"] == n).sum()) for n in (1, 2, 3)},
                "counts_m": float(length[counted].sum()),
            }
        )
    return pd.DataFrame(rows)


def _verdict(profile: RuleProfile | None, share: float, low: float, high: float) -> str:
    if profile is None:
        return "no rule named in the block file: nothing was held against one"
    if not profile.is_about_ruts:
        return "this rule is not about rut depth; a survey of depths cannot settle it"
    if profile.share_of == "block area":
        return "the rule asks for a share of the block's area: survey that by transects over it"
    return (
        f"as surveyed, {share_verdict(profile, low, share, high)}; the survey stands for the "
        "trail only if its places were chosen without regard to ruts"
    )


def _hint(measured_cm: NDArray[np.float64], likely_cm: NDArray[np.float64]) -> str:
    usable = np.isfinite(likely_cm) & (likely_cm > 0) & (measured_cm > 0)
    n = int(usable.sum())
    if n < FEWEST_FOR_A_HINT:
        return (
            f"Records with both a rut and a prediction: {n}; too few for a hint "
            f"({FEWEST_FOR_A_HINT} are needed)."
        )
    ratio = measured_cm[usable] / likely_cm[usable]
    low, middle, high = np.quantile(ratio, [0.25, 0.5, 0.75])
    words = "deeper than" if middle > 1 else "shallower than"
    return (
        f"Measured ruts were {words} predicted: {middle:.2f} times in the middle, half of the "
        f"{n} records between {low:.2f} and {high:.2f}. On like ground, in a like state, expect "
        "the same next time; better still, measure the soil's strength there."
    )


def sample_size(
    half_width: float,
    confidence: float = 0.95,
    expected_share: float = 0.5,
    population: int | None = None,
) -> int:
    """Points on transects for a share known to within ``half_width`` at ``confidence``.

    ``n = z^2 p (1 - p) / e^2``, rounded up; with a finite ``population`` of points
    ``n / (1 + (n - 1) / population)`` (Cochran 1977, chapter 4; from memory). All shares are
    fractions; the expected share 0.5 asks for most points.

    Raises
    ------
    ValueError
        For shares outside 0 to 1.
    """
    if not (0 < half_width < 1 and 0 < confidence < 1 and 0 < expected_share < 1):
        raise ValueError("half width, confidence and expected share lie between 0 and 1")
    z = float(norm.ppf(0.5 + confidence / 2))
    n = z**2 * expected_share * (1 - expected_share) / half_width**2
    if population is not None:
        n = n / (1 + (n - 1) / population)
    return int(np.ceil(n - 1e-9))
