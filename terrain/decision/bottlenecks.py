"""Stretches that decide: where setups fall short, joined along the trails under a stable name.

A stretch is a run of stations of one kind. Its name is the trail and the chainage of its start, so
that map, lists and position files speak of the same metres.
"""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pandas as pd
from numpy.typing import NDArray
from shapely.ops import substring

from terrain.columns import columns_of
from terrain.decision.assessment import Assessment
from terrain.decision.ratings import over_rating
from terrain.decision.results import CAUSES, Evaluation
from terrain.known import largest, smallest
from terrain.models.settings import Settings
from terrain.models.soil import SOFT_FROM_CLASS
from terrain.stations.runs import order_along, runs_of
from terrain.stations.traffic import passes_of

__all__ = [
    "GRIP_KINDS",
    "KINDS",
    "RATING_EXCEEDED",
    "Stretches",
    "bottlenecks",
    "cause_of",
    "stretch_name",
    "stretch_rows",
    "stretch_setups",
    "thin_metres",
]

KINDS = (
    "no listed setup passes",
    "forces the choice",
    "over bearing capacity",
    "thin reserve",
)
"""Kinds of stretches, most pressing first."""

GRIP_KINDS = KINDS[:2]
"""Those at which another setup is the question; brash, load or care answer the others."""

Stretches = list[tuple[int, NDArray[np.int64]]]
"""Kind (position in :data:`KINDS`) and positions of the stations, ascending in chainage."""

_ROLLING = {9: 1.0, 10: -1.0}
"""Causes told as rolling resistance, with the sign of the grade in the direction of that travel."""

RATING_EXCEEDED = "; a rating is exceeded on this slope"
"""What the cause of a stretch ends with where the shown setup exceeds a level rating on it."""

_LIFTING = (12, 13, 14, 15)
"""Causes told as lifting off: that the other trip is short too does not say that it lifts."""

_FINE = -1
_STEP = 1000  # keys ascend from pressing to mild: kind * _STEP, less the setups that fall short


def stretch_rows(stations: pd.DataFrame, assessment: Assessment, settings: Settings) -> Stretches:
    """Positions of the stations of every stretch, trail by trail.

    Parameters
    ----------
    stations : DataFrame
        ``trail``, ``chainage_m``; rows as in the evaluation.
    assessment : Assessment
    settings : Settings
        Thin reserve.

    Notes
    -----
    Every station is in one stretch at most. A station at which no scored setup passes comes first;
    then one where a usual setup falls short that is lighter than the lightest that passes (it
    *forces the choice*); then one over the bearing capacity, then one whose reserve is thin, both
    under the shown setup. Runs that force the choice are cut where the lightest usual setup that
    passes changes, so that each has one answer. One assessed station between two runs of the same
    kind and answer is taken into them.
    """
    key = _keys(assessment, settings)
    order = order_along(stations)
    trail = stations["trail"].to_numpy()
    if len(key) > 2:  # one station between two alike, itself less pressing
        first, middle, last = order[:-2], order[1:-1], order[2:]
        before, here, after = key[first], key[middle], key[last]
        alone = (before == after) & (before != _FINE) & ((here == _FINE) | (here > before))
        alone &= trail[first] == trail[last]
        alone &= _assessed(assessment)[middle]
        key[middle] = np.where(alone, before, here)
    runs = runs_of(stations, key)
    return [(run.number // _STEP, run.rows) for run in runs if run.number != _FINE]


def _assessed(assessment: Assessment) -> NDArray[np.bool_]:
    """Where the shown setup's reserve is known; what is not known belongs to no stretch."""
    evaluation = assessment.evaluation
    shown = evaluation.column(assessment.ranking.shown)
    return np.isfinite(evaluation.reserve[:, shown])


def _keys(assessment: Assessment, settings: Settings) -> NDArray[np.int64]:
    evaluation = assessment.evaluation
    reserve = evaluation.reserve
    usual = reserve[:, [evaluation.column(name) for name in assessment.usual]]
    passes = usual >= 0
    first = np.where(passes.any(axis=1), passes.argmax(axis=1), usual.shape[1])
    forces = ((usual < 0) & (np.arange(usual.shape[1]) < first[:, None])).any(axis=1)
    shown = evaluation.column(assessment.ranking.shown)
    hopeless = (reserve < 0).all(axis=1)  # no comparison holds where it is not assessed
    over = np.isfinite(reserve[:, shown]) & (evaluation.pressure_ratio[:, shown] > 1)
    thin = reserve[:, shown] < settings.decision.thin_reserve
    return np.select(
        [hopeless, forces, over, thin],
        [0, 2 * _STEP - 1 - first, 2 * _STEP, 3 * _STEP],
        default=_FINE,
    ).astype(np.int64)


def thin_metres(
    stations: pd.DataFrame, evaluation: Evaluation, setup: str, settings: Settings
) -> float:
    """Metres of trail, in or out of stretches, that ``setup`` passes with a thin reserve.

    Parameters
    ----------
    stations : DataFrame
        ``length_m``; rows as in ``evaluation``.
    evaluation : Evaluation
    setup : str
        A scored setup.
    settings : Settings
        Thin reserve.
    """
    reserve = evaluation.reserve[:, evaluation.column(setup)]
    return float(stations["length_m"].to_numpy(dtype=float) @ _is_thin(reserve, settings))


def _is_thin(reserve: NDArray[np.float64], settings: Settings) -> NDArray[np.bool_]:
    return (reserve >= 0) & (reserve < settings.decision.thin_reserve)


def stretch_setups(
    stations: pd.DataFrame, assessment: Assessment, stretches: Stretches
) -> pd.DataFrame:
    """How every scored setup fares on every stretch: table ``stretch_setups`` of the registry.

    Rows go by stretch, in the order of ``stretches``, then by setup as evaluated.
    """
    evaluation = assessment.evaluation
    length = stations["length_m"].to_numpy(dtype=float)
    frames = []
    for _, rows in stretches:
        reserve = evaluation.reserve[rows]
        frames.append(
            pd.DataFrame(
                {
                    "stretch": stretch_name(stations, rows),
                    "setup": evaluation.setups,
                    "short_m": length[rows] @ (reserve < 0),
                    "worst_reserve": reserve.min(axis=0),
                    "over_bearing_m": length[rows] @ (evaluation.pressure_ratio[rows] > 1),
                }
            )
        )
    columns = list(columns_of("stretch_setups"))
    return (
        pd.concat(frames, ignore_index=True)[columns] if frames else pd.DataFrame(columns=columns)
    )


def bottlenecks(
    trails: gpd.GeoDataFrame,
    stations: gpd.GeoDataFrame,
    assessment: Assessment,
    settings: Settings,
    stretches: Stretches,
) -> gpd.GeoDataFrame:
    """One row a stretch, most pressing first: table ``bottlenecks`` of the registry, with lines.

    Parameters
    ----------
    trails : GeoDataFrame
        Index trail, lines in metres.
    stations : GeoDataFrame
    assessment : Assessment
    settings : Settings
    stretches : list of (kind, rows)
        Of :func:`stretch_rows`.
    """
    lines = trails.geometry
    rows, shapes = [], []
    for kind, members in stretches:
        row = _row(stations, assessment, settings, kind, members)
        rows.append(row)
        shapes.append(substring(lines.loc[row["trail"]], row["from_m"], row["to_m"]))
    table = gpd.GeoDataFrame(
        pd.DataFrame(rows, columns=list(columns_of("bottlenecks"))), geometry=shapes, crs=trails.crs
    )
    pressing = table["kind"].map({word: i for i, word in enumerate(KINDS)})
    order = pd.DataFrame(
        {"kind": pressing, "metres": -table["length_m"], "worst": table["worst_reserve"]}
    ).sort_values(["kind", "worst", "metres"], kind="stable")
    return table.loc[order.index].reset_index(drop=True)


def stretch_name(stations: pd.DataFrame, rows: NDArray[np.int64]) -> str:
    """Name of the stretch that these stations make: trail, hyphen, chainage of its start (m)."""
    first = stations.iloc[rows[0]]
    start = first["chainage_m"] - first["length_m"] / 2
    return f"{first['trail']}-{max(start, 0.0):.0f}"


def _row(
    stations: pd.DataFrame,
    assessment: Assessment,
    settings: Settings,
    kind: int,
    rows: NDArray[np.int64],
) -> dict[str, object]:
    evaluation = assessment.evaluation
    part = stations.iloc[rows]
    length = part["length_m"].to_numpy(dtype=float)
    shown = evaluation.column(assessment.ranking.shown)
    told = _told_setup(assessment, kind, rows)
    reserve = evaluation.reserve[rows, told]
    worst = int(np.nanargmin(reserve))
    passing = [
        name
        for name in assessment.usual
        if (evaluation.reserve[rows, evaluation.column(name)] >= 0).all()
    ]
    most = largest(part["volume_m3"].to_numpy(dtype=float))
    passes = passes_of(most, assessment.items[shown].payload_kg, settings.traffic)
    grade = part["grade"].to_numpy(dtype=float)
    over = evaluation.pressure_ratio[rows, shown] > 1
    return {
        "stretch": stretch_name(stations, rows),
        "trail": str(part["trail"].iloc[0]),
        "from_m": max(float(part["chainage_m"].iloc[0] - length[0] / 2), 0.0),
        "to_m": float(part["chainage_m"].iloc[-1] + length[-1] / 2),
        "length_m": float(length.sum()),
        "kind": KINDS[kind],
        "needs": passing[0] if passing else None,
        "cause": _cause(part, assessment, settings, kind, rows, told)
        + _rating(part, assessment, shown),
        "cause_setup": evaluation.setups[told],
        "worst_reserve": float(reserve[worst]),
        "shown_reserve": _smallest_or_unknown(evaluation.reserve[rows, shown]),
        "worst_m": float(part["chainage_m"].iloc[worst]),
        "x_m": float(part["x_m"].iloc[worst]),
        "y_m": float(part["y_m"].iloc[worst]),
        "grade_up": largest(grade[grade > 0]),
        "grade_down": largest(-grade[grade < 0]),
        "cross_slope": largest(np.abs(part["cross_slope"].to_numpy(dtype=float))),
        "cone_index_kpa": smallest(part["cone_index_kpa"].to_numpy(dtype=float)),
        "soil_polygons": ", ".join(dict.fromkeys(part["soil_polygon"].dropna().astype(str))),
        "landing": str(part["landing"].iloc[worst]),
        "volume_m3": most,
        "loads": float(passes.loads),
        "passes": float(passes.all),
        "over_bearing_m": float(length[over].sum()),
    }


def _told_setup(assessment: Assessment, kind: int, rows: NDArray[np.int64]) -> int:
    """Column of the setup whose trouble is told: the lightest usual one that is short, or shown."""
    evaluation = assessment.evaluation
    if KINDS[kind] == "forces the choice":
        for name in assessment.usual:
            column = evaluation.column(name)
            if (evaluation.reserve[rows, column] < 0).any():
                return column
    return evaluation.column(assessment.ranking.shown)


def _cause(
    part: pd.DataFrame,
    assessment: Assessment,
    settings: Settings,
    kind: int,
    rows: NDArray[np.int64],
    told: int,
) -> str:
    """Words for what brings the setup ``told`` down on the stretch.

    Ground counts as soft where its class is soft or the nominal pressure is over its bearing
    capacity, and the trail as level below the first slope band.
    """
    evaluation = assessment.evaluation
    length = part["length_m"].to_numpy(dtype=float)
    reserve = evaluation.reserve[rows, told]
    if KINDS[kind] == "over bearing capacity":
        word = "soft ground: nominal ground pressure over the bearing capacity"
        if (reserve < 0).any():
            return f"{word}; short of traction"
        return f"{word}; thin reserve" if _is_thin(reserve, settings).any() else word
    limit = settings.decision.thin_reserve if KINDS[kind] == "thin reserve" else 0.0
    short = reserve < limit
    metres = length[short]
    code = int(np.bincount(evaluation.cause[rows, told][short], metres).argmax())
    soft = part["ground_class"].fillna(0).to_numpy(dtype=np.int64) >= SOFT_FROM_CLASS
    soft = (soft | (evaluation.pressure_ratio[rows, told] > 1))[short]
    climb = part["grade"].to_numpy(dtype=float)[short] * _ROLLING.get(code, 0.0)
    steep = climb >= settings.terrain.slope_bands[0]
    both = (evaluation.reserve_loaded[rows, told] < limit) & (
        evaluation.reserve_empty[rows, told] < limit
    )
    half = metres.sum() / 2
    return cause_of(
        code,
        soft=bool(metres[soft].sum() >= half),
        climbing=bool(metres[steep].sum() >= half),
        both=bool(length[both].sum() >= half),
    )


def _rating(part: pd.DataFrame, assessment: Assessment, shown: int) -> str:
    """Whether the shown setup exceeds a level rating on any metre, with balanced bogies."""
    return RATING_EXCEEDED if over_rating(part, assessment.items[shown]).any() else ""


def _smallest_or_unknown(reserve: NDArray[np.float64]) -> float:
    """Smallest reserve; NaN where a station is not known, unless a known one is short already."""
    known = smallest(reserve)
    return known if known < 0 else float(reserve.min())


def cause_of(code: int, *, soft: bool, climbing: bool, both: bool) -> str:
    """Words for what binds, and on what ground.

    Parameters
    ----------
    code : int
        Of :data:`terrain.decision.results.CAUSES`.
    soft, climbing : bool
        The ground is soft; the trail climbs in the trip whose rolling resistance binds.
    both : bool
        The other trip falls short (or has a thin reserve) too. A cross slope, a driveline and soft
        ground are the same for both trips; on a grade the other trip goes the other way.
    """
    word = CAUSES[code]
    if code == 0:
        return word
    trip = "empty" if word.endswith("empty") else "loaded"
    if soft and code in _ROLLING:
        word = f"climbing {trip}" if climbing else f"soft ground, {trip}"
    ground = ", on soft ground" if soft and not word.startswith("soft ground") else ""
    if not both:
        return word + ground
    if word.endswith(f", {trip}") and code not in _LIFTING:
        return f"{word.removesuffix(f', {trip}')}{ground}, loaded and empty alike"
    return f"{word}{ground}, weak {'loaded' if trip == 'empty' else 'empty'} too"
