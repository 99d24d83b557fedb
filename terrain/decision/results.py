"""What a run knows at its end. Outputs read these records and nothing else."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import geopandas as gpd
import numpy as np
import pandas as pd
from numpy.typing import NDArray

from terrain.decision.wet_results import WetGround
from terrain.errors import Issue
from terrain.grid import Grid
from terrain.inputs.loaded import InputFile
from terrain.models.aids import Setup
from terrain.models.emergency import Emergency
from terrain.models.machine import Machine
from terrain.models.settings import Settings

if TYPE_CHECKING:  # they stand on the evaluation, which stands on this module
    from terrain.decision.check_sheet import CheckSheet
    from terrain.decision.crane_places import CranePlaces
    from terrain.decision.doubt_results import Doubt
    from terrain.decision.ruts import Ruts
    from terrain.decision.stability_checks import TipPlaces

__all__ = ["CAUSES", "Evaluation", "Plan", "Ranking", "StatusRow"]

CAUSES: dict[int, str] = {
    0: "not assessed",
    1: "climbing loaded",
    2: "descending loaded",
    3: "climbing empty",
    4: "descending empty",
    5: "cross slope, loaded",
    6: "cross slope, empty",
    7: "driveline effort, loaded",
    8: "driveline effort, empty",
    9: "rolling resistance, loaded",
    10: "rolling resistance, empty",
    11: "pull of the dragged load",
    12: "an axle lifting off, loaded",
    13: "an axle lifting off, empty",
    14: "uphill wheels lifting off, loaded",
    15: "uphill wheels lifting off, empty",
}
"""What binds at a station, by code."""


@dataclass(frozen=True, slots=True)
class Evaluation:
    """Dense answers: arrays of shape (n_station, n_setup).

    Rows align with the stations table, columns with ``setups``.

    Attributes
    ----------
    setups : tuple of str
        Ids of the scored setups (usual practice and ask first; never excluded ones).
    reserve_loaded, reserve_empty : ndarray of float
        Traction reserve as a ratio of the machine's weight normal to the ground, at the slip limit:
        how much steeper the trail could be. No more than what is left to the slope at which an axle
        group or the uphill wheels lift off. Negative is short. NaN is not assessed.
    cause : ndarray of int8
        Code of :data:`CAUSES` for the smaller of the two reserves; lifting off comes first.
    pressure_kpa : ndarray of float
        Largest nominal ground pressure of the axle groups, both states, on that slope.
    pressure_ratio : ndarray of float
        That pressure over the likely bearing capacity; above 1 is over.
    extrapolated : ndarray of bool
        The mobility number was used outside its stated range.
    """

    setups: tuple[str, ...]
    reserve_loaded: NDArray[np.float64]
    reserve_empty: NDArray[np.float64]
    cause: NDArray[np.int8]
    pressure_kpa: NDArray[np.float64]
    pressure_ratio: NDArray[np.float64]
    extrapolated: NDArray[np.bool_]

    @property
    def reserve(self) -> NDArray[np.float64]:
        """The smaller of the two reserves; NaN where either is unknown."""
        return np.minimum(self.reserve_loaded, self.reserve_empty)

    def column(self, setup: str) -> int:
        """Column number of ``setup``."""
        return self.setups.index(setup)


@dataclass(frozen=True, slots=True)
class Ranking:
    """Setups in order, with their measures and words.

    Attributes
    ----------
    setups : DataFrame
        Columns as ``terrain.columns.TABLES["setups"]``, best first: the candidate, then the other
        outcomes, usual practice before ask first.
    excluded : DataFrame
        Columns as ``terrain.columns.TABLES["excluded"]``.
    candidate : str or None
        Setup named first as candidate for the manufacturer's approval; None when nothing suits.
    shown : str
        Setup that map and trail table show: the candidate, or the best of those that do not suit.
    headline : str
        The answer in two or three sentences.
    """

    setups: pd.DataFrame
    excluded: pd.DataFrame
    candidate: str | None
    shown: str
    headline: str


@dataclass(frozen=True, slots=True)
class StatusRow:
    """One figure or relation that shaped the result, and its standing."""

    name: str
    value: str
    status: str
    source: str
    where: str = ""


@dataclass(frozen=True, slots=True)
class Plan:
    """Everything that the outputs show.

    ``slope`` is the grid of the least-squares plane's slope (ratio), on the DEM's cells.
    ``slope_class`` holds 0 (not assessed) to n. ``slope_labels`` names classes 1 to n with percent
    and degrees. ``trails`` is ``terrain.columns.TABLES["trails"]`` with line geometry;
    ``stations`` has point geometry; both in ``dem.crs``. ``statuses`` lists the standing of every
    coefficient that shaped the result. ``not_assessed`` says in sentences what nobody looked at.
    ``states`` holds, by moisture state, the columns of the stations that change with it
    (``terrain.decision.ground.STATE_COLUMNS``), on the stations' index; those of the chosen state
    stand in ``stations`` too. ``wet_ground`` is None only in a plan that was not routed.
    ``ruts`` and ``check_sheet`` are None only in a plan whose traffic was not looked at.

    The rest is None, or empty, only in a plan that was made without it. ``evaluations`` holds the
    dense answers of all five moisture states; that of the chosen state is ``evaluation``. The
    tables have the columns of the registry: ``bottlenecks`` (with the line of each stretch),
    ``stretch_setups``, ``seasons``, ``trail_states``, ``trail_loads``, ``remedies``, ``reroutes``
    (with their lines), ``drop_it``, ``weights``, ``machines``, ``ratings``, ``rating_places``,
    ``stability_checks``, ``footprints``, ``effects_used``, ``outside_range``. ``emergency`` is the
    meeting point of the block file, ``shown_setup`` the shown setup with its aids, ``tip_places``
    where it comes near to tipping. ``crane_checks`` has no rows, and ``crane_places`` (of the shown
    setup) is None, where the machine file has no crane.
    """

    name: str
    invented: bool
    version: str
    settings: Settings
    machine: Machine
    dem: Grid
    slope: Grid
    slope_class: Grid
    slope_labels: tuple[str, ...]
    soils: gpd.GeoDataFrame
    landings: gpd.GeoDataFrame
    boundary: gpd.GeoDataFrame | None
    trails: gpd.GeoDataFrame
    stations: gpd.GeoDataFrame
    evaluation: Evaluation
    ranking: Ranking
    statuses: tuple[StatusRow, ...]
    files: tuple[InputFile, ...]
    issues: tuple[Issue, ...]
    not_assessed: tuple[str, ...]
    crs_note: str
    states: dict[str, pd.DataFrame] = field(default_factory=dict)
    second_opinions: pd.DataFrame | None = None
    wet_ground: WetGround | None = None
    ruts: Ruts | None = None
    check_sheet: CheckSheet | None = None
    evaluations: dict[str, Evaluation] = field(default_factory=dict)
    bottlenecks: gpd.GeoDataFrame | None = None
    stretch_setups: pd.DataFrame | None = None
    seasons: pd.DataFrame | None = None
    trail_states: pd.DataFrame | None = None
    trail_loads: pd.DataFrame | None = None
    remedies: pd.DataFrame | None = None
    reroutes: gpd.GeoDataFrame | None = None
    drop_it: pd.DataFrame | None = None
    doubt: Doubt | None = None
    weights: pd.DataFrame | None = None
    machines: pd.DataFrame | None = None
    ratings: pd.DataFrame | None = None
    rating_places: pd.DataFrame | None = None
    stability_checks: pd.DataFrame | None = None
    tip_places: TipPlaces | None = None
    crane_checks: pd.DataFrame | None = None
    crane_places: CranePlaces | None = None
    footprints: pd.DataFrame | None = None
    effects_used: pd.DataFrame | None = None
    outside_range: pd.DataFrame | None = None
    emergency: Emergency | None = None
    shown_setup: Setup | None = None
