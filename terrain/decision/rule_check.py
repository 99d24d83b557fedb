"""Ruts and trail area held against a site's rule: what counts, what share, what to say."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from terrain.decision.exposure import TrailArea
from terrain.decision.ruts import RUT_CLASSES, Ruts, beyond, rut_class, threshold_cm
from terrain.models.site_rules import RuleProfile

__all__ = ["Beyond", "band_words", "held_against", "rule_shares", "share_verdict"]

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Beyond:
    """Stations whose rut counts, (n_station, n_setup), and where nothing can be said."""

    low: NDArray[np.bool_]
    likely: NDArray[np.bool_]
    high: NDArray[np.bool_]
    silent: NDArray[np.bool_]


def held_against(
    ruts: Ruts, profile: RuleProfile | None, organic: NDArray[np.bool_], stations: pd.DataFrame
) -> Beyond:
    """Find the stations whose rut counts by a rule; without a rule on ruts none does (metres)."""
    if profile is None or not profile.is_about_ruts:
        none = np.zeros(ruts.likely_cm.shape, dtype=bool)
        return Beyond(none, none, none, ~none)
    limit = threshold_cm(profile, organic)
    low, likely, high = (
        beyond(depth, limit, stations, profile.min_length_m)
        for depth in (ruts.low_cm, ruts.likely_cm, ruts.high_cm)
    )
    return Beyond(low, likely, high, np.isnan(ruts.likely_cm) | np.isnan(limit)[:, None])


def share_verdict(
    profile: RuleProfile | None, share_low: float, share: float, share_high: float
) -> str:
    """Say what a band of shares means against the rule's largest share; never an approval.

    ``share_high`` counts everything that is not predicted, so that only a band without gaps can
    stay within the rule.
    """
    if profile is None:
        return "no rule named"
    if profile.counts == "effects":
        return "judged by effect in the field; no figure can stand for it"
    if np.isnan(share):
        return "not assessed"
    if profile.max_share is None:
        return _graded(profile, share_low, share, share_high)
    if share_high <= profile.max_share:
        return "the whole band stays within the rule"
    if share_low > profile.max_share:
        return "the whole band is beyond the rule"
    if share > profile.max_share:
        return "likely beyond the rule; the band reaches across it"
    return "likely within the rule; the band reaches across it"


def _graded(profile: RuleProfile, low: float, likely: float, high: float) -> str:
    edges = profile.severity_shares
    if not edges:
        return "the rule sets no share"
    names = [f"under {edges[0] * 100:g} %"]
    names += [f"{a * 100:g} to {b * 100:g} %" for a, b in pairwise(edges)]
    names += [f"over {edges[-1] * 100:g} %"]

    def grade(value: float) -> str:
        return "no ruts" if value <= 0 else names[int(np.searchsorted(edges, value, "left"))]

    grades = [grade(value) for value in (low, likely, high)]
    if len(set(grades)) == 1:
        return f"grade: {grades[0]}"
    return f"grade: likely {grades[1]} (band: {grades[0]} to {grades[2]})"


def rule_shares(
    profile: RuleProfile | None,
    masks: tuple[NDArray, NDArray, NDArray, NDArray],
    length: Floats,
    width: Floats,
    area: TrailArea,
) -> tuple[float, float, float]:
    """Low, likely and high share that the rule looks at; NaN where it cannot be told."""
    blank = (np.nan, np.nan, np.nan)
    if profile is None or profile.counts == "effects":
        return blank
    if profile.counts == "trails":
        high = np.nan if area.unknown_m > 0 else area.share
        return (area.share, area.share, np.inf if np.isnan(high) else high)
    low, likely, high_mask, silent = masks
    high_mask = high_mask | silent
    if profile.share_of == "trail length":
        total = length.sum()
        return tuple(float(length[m].sum() / total) for m in (low, likely, high_mask))  # type: ignore[return-value]
    if profile.share_of != "block area" or np.isnan(area.block_m2):
        return blank
    if np.isnan(width[likely]).any():
        return blank
    known = np.nan_to_num(width)
    blind = bool(np.isnan(width[high_mask]).any())
    parts = [float((length * known)[m].sum() / area.block_m2) for m in (low, likely, high_mask)]
    return (parts[0], parts[1], np.inf if blind else parts[2])


def band_words(low_cm: float, likely_cm: float, high_cm: float) -> str:
    """Band of rut classes in words: likely class, and the ends where they differ."""
    low, likely, high = (int(n) for n in rut_class([low_cm, likely_cm, high_cm]))
    if likely == 0:
        return "not predicted"
    if low == likely == high:
        return RUT_CLASSES[likely - 1][1]
    ends = f"{RUT_CLASSES[low - 1][1]} up to {RUT_CLASSES[high - 1][1]}"
    return f"likely {RUT_CLASSES[likely - 1][1]} (band: {ends})"
