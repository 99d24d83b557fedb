"""The soil-disturbance check: metres and shares against the site's rule, before machines arrive."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import geopandas as gpd
import numpy as np
import pandas as pd
from numpy.typing import NDArray

from terrain.columns import columns_of
from terrain.decision.brash import BrashBalance, brash_balance
from terrain.decision.carried import Carried
from terrain.decision.exposure import (
    TrailArea,
    mass_driven_t,
    part_loads,
    trail_area,
    trail_widths,
)
from terrain.decision.results import Evaluation
from terrain.decision.rule_check import (
    Beyond,
    band_words,
    held_against,
    rule_shares,
    share_verdict,
)
from terrain.decision.ruts import Ruts, evaluate_ruts, organic_stations
from terrain.known import largest
from terrain.models.settings import Settings
from terrain.models.site_rules import RuleProfile
from terrain.stations.runs import runs_of
from terrain.stations.traffic import PASS_CLASSES, Traffic, pass_class, payload_m3

__all__ = ["CheckSheet", "check_sheet"]

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class CheckSheet:
    """What a forester looks at before signing.

    Attributes
    ----------
    profile : RuleProfile or None
        None when the block file names no rule.
    shown : str
        Setup of the tables by trail and by stretch.
    setups, trails, stretches : DataFrame
        Columns as ``terrain.columns.TABLES["check_setups"]``, ``"check_trails"``,
        ``"check_stretches"``.
    states : DataFrame
        Columns ``state``, ``setup``, ``beyond_low_m``, ``beyond_m``, ``beyond_high_m``,
        ``over_bearing_m``, for the shown setup and for bare wheels; empty without states or rule.
    part_loads : DataFrame
        See :func:`terrain.decision.exposure.part_loads`, shown setup.
    area : TrailArea
    brash : BrashBalance or None
    traffic : Traffic
    unknown_volume_m, too_strong_m : float
        Metres without known volume, and metres on ground too strong for the rut relations.
    against_m : float
        Metres on which timber also travels against the direction that was assessed.
    """

    profile: RuleProfile | None
    shown: str
    setups: pd.DataFrame
    trails: pd.DataFrame
    stretches: pd.DataFrame
    states: pd.DataFrame
    part_loads: pd.DataFrame
    area: TrailArea
    brash: BrashBalance | None
    traffic: Traffic
    unknown_volume_m: float
    too_strong_m: float
    against_m: float


def check_sheet(
    trails: gpd.GeoDataFrame,
    stations: pd.DataFrame,
    soils: pd.DataFrame,
    boundary: gpd.GeoDataFrame | None,
    profile: RuleProfile | None,
    settings: Settings,
    items: Sequence[Carried],
    evaluation: Evaluation,
    traffic: Traffic,
    ruts: Ruts,
    shown: str,
    states: Mapping[str, pd.DataFrame] | None = None,
) -> CheckSheet:
    """Hold ruts, pressures and trail area against the rule, by setup, trail, stretch and state.

    ``trails`` and ``soils`` as in :class:`terrain.inputs.loaded.LoadedBlock`; arrays align with
    ``stations``. Lengths in metres, shares as fractions.
    """
    k = evaluation.column(shown)
    item = items[k]
    width = trail_widths(trails, settings.traffic)
    area = trail_area(trails, width, boundary)
    organic = organic_stations(stations, soils)
    length = stations["length_m"].to_numpy(dtype=float)
    station_width = stations["trail"].map(width).to_numpy(dtype=float)
    found = held_against(ruts, profile, organic, stations)
    over = evaluation.pressure_ratio > 1
    brash = None
    if settings.brash is not None:
        spacing = settings.traffic.served_width_m
        brash = brash_balance(stations, width, found.likely[:, k], settings.brash, spacing)
    return CheckSheet(
        profile=profile,
        shown=shown,
        setups=_by_setup(items, ruts, found, over, length, station_width, profile, area, settings),
        trails=_by_trail(
            trails, stations, traffic, ruts, found, over[:, k], k, item, width, brash, profile
        ),
        stretches=_stretches(stations, ruts, found.likely[:, k], k),
        states=_by_state(
            stations, states or {}, items, traffic, profile, organic, settings, shown, evaluation
        ),
        part_loads=part_loads(item, traffic.volume_m3, settings.traffic),
        area=area,
        brash=brash,
        traffic=traffic,
        unknown_volume_m=float(length[np.isnan(traffic.volume_m3)].sum()),
        too_strong_m=float(length[ruts.too_strong].sum()),
        against_m=float(length[traffic.against_m3 > 0].sum()),
    )


def _by_setup(
    items: Sequence[Carried],
    ruts: Ruts,
    found: Beyond,
    over: NDArray[np.bool_],
    length: Floats,
    width: Floats,
    profile: RuleProfile | None,
    area: TrailArea,
    settings: Settings,
) -> pd.DataFrame:
    rows = []
    for k, item in enumerate(items):
        masks = (found.low[:, k], found.likely[:, k], found.high[:, k], found.silent[:, k])
        metres = [float(length[mask].sum()) for mask in masks]
        shares = rule_shares(profile, masks, length, width, area)
        ruled = profile is not None and profile.is_about_ruts
        rows.append(
            {
                "setup": item.setup.id,
                "payload_m3": float(
                    payload_m3(item.payload_kg, settings.traffic.green_density_kg_m3)
                ),
                "loads_max": largest(ruts.loads[:, k]),
                "passes_max": largest(ruts.passes[:, k]),
                "mass_driven_max_t": largest(mass_driven_t(item, ruts.loads[:, k])),
                "over_bearing_m": float(length[over[:, k]].sum()),
                "beyond_low_m": metres[0] if ruled else np.nan,
                "beyond_m": metres[1] if ruled else np.nan,
                "beyond_high_m": metres[2] if ruled else np.nan,
                "not_predicted_m": metres[3],
                "share_low": shares[0],
                "share": shares[1],
                "share_high": shares[2],
                "verdict": share_verdict(profile, *shares),
            }
        )
    return pd.DataFrame(rows, columns=list(columns_of("check_setups")))


def _by_trail(
    trails: gpd.GeoDataFrame,
    stations: pd.DataFrame,
    traffic: Traffic,
    ruts: Ruts,
    found: Beyond,
    over: NDArray[np.bool_],
    k: int,
    item: Carried,
    width: pd.Series,
    brash: BrashBalance | None,
    profile: RuleProfile | None,
) -> pd.DataFrame:
    length = stations["length_m"].to_numpy(dtype=float)
    names = stations["trail"].to_numpy()
    ruled = profile is not None and profile.is_about_ruts

    def metres(mask: NDArray) -> pd.Series:
        return pd.Series(np.where(mask, length, 0.0)).groupby(names).sum().reindex(trails.index)

    passes = pd.Series(ruts.passes[:, k]).groupby(names).max().reindex(trails.index)
    # a trail with one unknown station has an unknown maximum
    unknown = pd.Series(np.isnan(ruts.passes[:, k])).groupby(names).any().reindex(trails.index)
    passes = passes.mask(unknown.to_numpy(dtype=bool))
    mass = pd.Series(mass_driven_t(item, ruts.loads[:, k])).groupby(names).max()
    numbers = pass_class(passes.to_numpy(dtype=float))
    words = {-1: None, 0: "no passes"}
    words |= {n: text for n, (_, text) in enumerate(PASS_CLASSES, start=1)}
    blank = pd.Series(np.nan, index=trails.index)
    in_buffer = blank
    if "in_buffer" in stations and stations["in_buffer"].notna().any():
        in_buffer = metres(stations["in_buffer"].fillna(False).to_numpy(dtype=bool))
    table = pd.DataFrame(
        {
            "volume_m3": traffic.volumes["volume_m3"],
            "volume_from": traffic.volumes["volume_from"],
            "length_m": metres(np.ones(len(stations), dtype=bool)),
            "width_m": width,
            "passes_max": passes,
            "pass_class": [words[int(n)] for n in numbers],
            "mass_driven_max_t": mass.reindex(trails.index).mask(unknown.to_numpy(dtype=bool)),
            "over_bearing_m": metres(over),
            "beyond_low_m": metres(found.low[:, k]) if ruled else blank,
            "beyond_m": metres(found.likely[:, k]) if ruled else blank,
            "beyond_high_m": metres(found.high[:, k]) if ruled else blank,
            "not_predicted_m": metres(found.silent[:, k]),
            "in_buffer_m": in_buffer,
            "brash_need_m": brash.need_m if brash else blank,
            "brash_short_m": brash.short_m if brash else blank,
            "brash_supply_kg_m2": brash.supply_kg_m2 if brash else blank,
        },
        index=trails.index,
    )
    table = table.rename_axis("trail").reset_index()
    return table[list(columns_of("check_trails"))]


def _stretches(stations: pd.DataFrame, ruts: Ruts, flag: NDArray, k: int) -> pd.DataFrame:
    """Unbroken stretches whose rut likely counts, longest first."""
    ground = stations["ground_class"].astype("Float64").to_numpy(dtype=float, na_value=np.nan)
    rows = [
        {
            "trail": run.trail,
            "from_m": run.start_m,
            "to_m": run.end_m,
            "passes_max": largest(ruts.passes[run.rows, k]),
            "rut_words": band_words(
                largest(ruts.low_cm[run.rows, k]),
                largest(ruts.likely_cm[run.rows, k]),
                largest(ruts.high_cm[run.rows, k]),
            ),
            "ground_class": largest(ground[run.rows]),
        }
        for run in runs_of(stations, flag)
        if run.number
    ]
    table = pd.DataFrame(rows, columns=list(columns_of("check_stretches")))
    order = np.argsort((table["from_m"] - table["to_m"]).to_numpy(dtype=float), kind="stable")
    return table.iloc[order].reset_index(drop=True)


def _by_state(
    stations: pd.DataFrame,
    states: Mapping[str, pd.DataFrame],
    items: Sequence[Carried],
    traffic: Traffic,
    profile: RuleProfile | None,
    organic: NDArray[np.bool_],
    settings: Settings,
    shown: str,
    evaluation: Evaluation,
) -> pd.DataFrame:
    names = ["state", "setup", "beyond_low_m", "beyond_m", "beyond_high_m", "over_bearing_m"]
    if profile is None or not profile.is_about_ruts:
        return pd.DataFrame(columns=names)
    length = stations["length_m"].to_numpy(dtype=float)
    picked = [i for i in items if i.setup.id == shown or i.setup.is_bare]
    pressure = evaluation.pressure_kpa
    rows = []
    for state, ground in states.items():
        ruts = evaluate_ruts(stations, ground, picked, traffic.volume_m3, settings)
        found = held_against(ruts, profile, organic, stations)
        bearing = ground["bearing_kpa"].to_numpy(dtype=float)
        for k, item in enumerate(picked):
            over = pressure[:, evaluation.column(item.setup.id)] > bearing
            masks = (found.low[:, k], found.likely[:, k], found.high[:, k], over)
            figures = [float(length[mask].sum()) for mask in masks]
            rows.append(dict(zip(names, [state, item.setup.id, *figures], strict=True)))
    return pd.DataFrame(rows, columns=names)
