"""Ruts by setup: a class with a band from first-pass sinkage and passes, never a promised depth.

Two relations give the sinkage of each wheel at its first pass; passes add up so that equal passes
give the published growth ``z1 n^(1/a)``. The low end of the band takes the smaller sinkage on the
strong end of the soil's range, the high end the larger one on the weak end. The relations are from
memory. Above the strength at which a trial found no relation nothing is predicted.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray

from terrain.decision.carried import Carried, group_loads
from terrain.mechanics import contact, loads, rutting, soil_strength, traction, traction_checks
from terrain.mechanics.cone_index import rating_cone_index_kpa
from terrain.mechanics.mounted import Mounted
from terrain.models.settings import Settings
from terrain.models.site_rules import RuleProfile
from terrain.sources import data_table
from terrain.stations.runs import order_along
from terrain.stations.traffic import passes_of

__all__ = [
    "RUT_CLASSES",
    "Ruts",
    "beyond",
    "evaluate_ruts",
    "organic_stations",
    "rut_class",
    "stretch_lengths_m",
    "threshold_cm",
]

Floats = NDArray[np.float64]

RUT_CLASSES: tuple[tuple[float, str], ...] = (
    (5.0, "under 5 cm"),
    (10.0, "5 to 10 cm"),
    (20.0, "10 to 20 cm"),
    (np.inf, "over 20 cm"),
)
"""Upper edges and names of the classes; the edges are depths at which published rules count."""

_DEFLECTIONS = (0.02, 0.6)  # range in which the wheel numbers stay defined


@dataclass(frozen=True, slots=True)
class Ruts:
    """Ruts and passes, arrays of shape (n_station, n_setup), columns as ``setups``.

    Attributes
    ----------
    setups : tuple of str
    loads, passes : ndarray
        Loads, and all passes with empty ones and the harvester; NaN unknown.
    low_cm, likely_cm, high_cm : ndarray
        The band; NaN is not predicted (passes or strength unknown, or ground too strong for the
        relations). For classes and thresholds only.
    too_strong : ndarray of bool, shape (n_station,)
        Ground above the strength up to which a rut is predicted.
    """

    setups: tuple[str, ...]
    loads: Floats
    passes: Floats
    low_cm: Floats
    likely_cm: Floats
    high_cm: Floats
    too_strong: NDArray[np.bool_]

    def column(self, setup: str) -> int:
        """Column number of ``setup``."""
        return self.setups.index(setup)


def evaluate_ruts(
    stations: pd.DataFrame,
    ground: pd.DataFrame,
    items: Sequence[Carried],
    volume_m3: ArrayLike,
    settings: Settings,
) -> Ruts:
    """Rut bands of every setup at every station.

    Parameters
    ----------
    stations : DataFrame
        ``grade`` and ``cross_slope`` (ratios).
    ground : DataFrame
        Same index: ``ground_class``, ``cone_index_kpa``, and ``cone_index_low_kpa``,
        ``cone_index_high_kpa`` where known (else those of the class); any moisture state's.
    items : sequence of Carried
    volume_m3 : array_like, shape (n_station,)
        Timber that leaves the station toward the landing, m3.
    settings : Settings
        Density, harvester passes, assortment runs; slip limit.

    Notes
    -----
    Every wheel of the downhill side counts as one pass of its own, also under a band track, so
    that all gear is treated alike; a band's contact enters through its wheel number. Where the
    user's catalogue gives a rut factor, it is the rut of the bare wheels under the same load times
    that factor instead. Empty trips press with the empty machine; the harvester is taken as one
    more empty trip of this machine for each of its passes (planning assumptions). The second
    relation asks for the rating cone index: the cone index times the remoulding index of the block
    file; where there is none the cone index itself stands in, which flatters.
    """
    soil_class = ground["ground_class"].fillna(0).to_numpy(dtype=np.int64)
    strength = _strengths(ground, soil_class)
    weak, firm = rutting.pass_exponents(soil_class)
    exponents = (firm, (weak + firm) / 2, weak)
    too_strong = strength[1] > rutting.STRENGTH_LIMIT_KPA
    hidden = np.where(too_strong, np.nan, 0.0)
    grade = stations["grade"].to_numpy(dtype=float)
    cross = stations["cross_slope"].to_numpy(dtype=float)
    shape = (len(stations), len(items))
    bands = np.full((3, *shape), np.nan)
    all_loads, all_passes = np.full(shape, np.nan), np.full(shape, np.nan)
    for k, item in enumerate(items):
        passes = passes_of(volume_m3, item.payload_kg, settings.traffic)
        all_loads[:, k], all_passes[:, k] = passes.loads, passes.all
        for end, cone_index in enumerate(strength[::-1]):  # low rut on the strong end
            total = np.zeros(len(stations))
            for laden, trips in ((True, passes.loads), (False, passes.all - passes.loads)):
                first = _first_pass_m(item, laden, grade, cross, cone_index, settings, end)
                for depth, group in zip(first, item.groups, strict=True):
                    lines = group.group.wheels // 2
                    with np.errstate(invalid="ignore"):
                        grown = lines * trips * depth ** exponents[end]
                    total += np.where(trips == 0, 0.0, grown)
            bands[end, :, k] = 100.0 * total ** (1.0 / exponents[end]) + hidden
    return Ruts(
        tuple(item.setup.id for item in items),
        all_loads,
        all_passes,
        bands[0],
        bands[1],
        bands[2],
        too_strong,
    )


def _strengths(ground: pd.DataFrame, soil_class: NDArray[np.int64]) -> tuple[Floats, ...]:
    """Cone index low, likely, high in kPa."""
    likely = ground["cone_index_kpa"].to_numpy(dtype=float)
    ends = []
    for which in ("low", "high"):
        name = f"cone_index_{which}_kpa"
        if name in ground:
            ends.append(ground[name].to_numpy(dtype=float))
        else:
            ends.append(soil_strength.cone_index_kpa(soil_class, which))  # type: ignore[arg-type]
    return ends[0], likely, ends[1]


def _first_pass_m(
    item: Carried,
    laden: bool,
    grade: Floats,
    cross: Floats,
    cone_index: Floats,
    settings: Settings,
    end: int,
) -> list[Floats]:
    """First-pass sinkage of a wheel of each group: smaller, middle or larger of two relations."""
    travel = grade if laden else -grade
    group_kn, _, cg_height = group_loads(item, laden, travel, cross)
    _, downhill = loads.side_shares(cross, cg_height, item.machine.track_gauge_m)
    heavier = 2 * downhill / loads.normal_share(0.0, cross)
    depths = []
    for number, group in enumerate(item.groups):
        own_factor = group.aid is not None and group.aid.rut_factor is not None
        tyres = group.group.wheels if own_factor else group.tyres
        wheel_kn = np.maximum(group_kn[:, number] * heavier, 1e-3) / tyres
        one, other = _two_relations(group, wheel_kn, cone_index, settings)
        picked = (np.minimum(one, other), np.sqrt(one * other), np.maximum(one, other))
        depths.append(picked[end])
    return depths


def _two_relations(
    group: Mounted, wheel_kn: Floats, cone_index: Floats, settings: Settings
) -> tuple[Floats, Floats]:
    tyre = group.group.tyre
    own_factor = group.aid.rut_factor if group.aid else None
    # under bands at the charted pressure, with a factor of the user's own too: no credit for a soft
    # tyre that the bands do not allow
    ratio = contact.deflection_ratio(wheel_kn, group.inflation_kpa, tyre.section_height_m)
    ratio = np.clip(ratio, *_DEFLECTIONS)
    wheel = (tyre.width_m, tyre.diameter_m, wheel_kn, ratio)
    turnage = traction_checks.turnage_number(cone_index, *wheel)
    kneaded = settings.ground.remoulding_index
    rating = rating_cone_index_kpa(cone_index, 1.0 if kneaded is None else kneaded)
    other = rutting.willoughby_turnage_number(rating, *wheel, settings.decision.slip_limit)
    tracked = group.aid is not None and group.aid.kind in ("wheel track", "band track")
    if tracked and own_factor is None:
        gain = (1 / group.bare_area_m2, 1 / group.area_m2)
        turnage, other = traction.track_number(turnage, *gain), traction.track_number(other, *gain)
    with np.errstate(divide="ignore"):  # no strength at all: no end to the sinkage
        depths = (
            rutting.first_pass_maclaurin_m(turnage, tyre.diameter_m),
            rutting.first_pass_willoughby_turnage_m(other, tyre.diameter_m),
        )
    factor = 1.0 if own_factor is None else own_factor
    return factor * depths[0], factor * depths[1]


def rut_class(depth_cm: ArrayLike) -> NDArray[np.int64]:
    """Class number 1 to 4 by :data:`RUT_CLASSES` (edges belong below); 0 not predicted."""
    depth = np.asarray(depth_cm, dtype=float)
    number = np.searchsorted([edge for edge, _ in RUT_CLASSES[:-1]], depth, side="left") + 1
    return np.where(np.isnan(depth), 0, number).astype(np.int64)


def organic_stations(stations: pd.DataFrame, soils: pd.DataFrame) -> NDArray[np.bool_]:
    """Whether each station lies on organic soil, by the texture of its polygon."""
    words = set(data_table("soil_suggestion")["texture_groups_more"]["organic"])
    texture = stations["soil_polygon"].map(
        {str(name): word for name, word in soils["texture"].items()}
    )
    return np.array([isinstance(word, str) and word.lower() in words for word in texture])


def threshold_cm(profile: RuleProfile, organic: NDArray[np.bool_]) -> Floats:
    """Depth at which a rut counts at each station, cm; NaN where the profile gives none."""
    mineral = np.nan if profile.depth_mineral_cm is None else profile.depth_mineral_cm
    peat = np.nan if profile.depth_organic_cm is None else profile.depth_organic_cm
    return np.where(organic, peat, mineral)


def beyond(
    depth_cm: Floats,
    limit_cm: Floats,
    stations: pd.DataFrame,
    min_length_m: float = 0.0,
) -> NDArray[np.bool_]:
    """Stations whose rut counts: deeper than the limit over at least ``min_length_m`` of trail.

    ``depth_cm`` (n_station, n_setup), ``limit_cm`` (n_station,). Depths or limits that are not
    known never count; the caller says how many metres those are.
    """
    deeper = np.nan_to_num(depth_cm, nan=-1.0) > np.nan_to_num(limit_cm, nan=np.inf)[:, None]
    if min_length_m <= 0:
        return deeper
    kept = np.zeros_like(deeper)
    for k in range(deeper.shape[1]):
        kept[:, k] = deeper[:, k] & (stretch_lengths_m(deeper[:, k], stations) >= min_length_m)
    return kept


def stretch_lengths_m(flag: NDArray, stations: pd.DataFrame) -> Floats:
    """Length (m) of the unbroken stretch of equal ``flag`` on its trail that holds each station."""
    order = order_along(stations)
    trail = stations["trail"].to_numpy()[order]
    changed = (np.diff(flag[order].astype(int)) != 0) | (trail[1:] != trail[:-1])
    run = np.concatenate([[0], np.cumsum(changed)])
    length = np.bincount(run, stations["length_m"].to_numpy(dtype=float)[order])
    result = np.empty(len(flag))
    result[order] = length[run]
    return result
