"""Everything about a run that is neither machine nor map: thresholds, states, weights."""

from __future__ import annotations

from dataclasses import dataclass, field

from terrain.models.soil import MoistureState, SurfaceFilm

__all__ = ["DecisionSettings", "GroundSettings", "Settings", "TerrainSettings"]


@dataclass(frozen=True, slots=True)
class TerrainSettings:
    """How the surface is read.

    ``step_m``: spacing of stations (metres), at least the DEM cell. ``machine_scale_m``: side of
    the window of the least-squares plane. ``slope_bands``: upper edges of the slope classes as
    ratios, ascending; the last class is open. ``buffer_m``: margin of DEM read round the trails.
    """

    step_m: float = 5.0
    machine_scale_m: float = 5.0
    slope_bands: tuple[float, ...] = (0.10, 0.20, 0.33, 0.50)
    buffer_m: float = 150.0
    snap_m: float = 3.0
    max_cells: int = 100_000_000
    max_file_mb: float = 4000.0


@dataclass(frozen=True, slots=True)
class GroundSettings:
    """State of the ground in this run.

    ``film_grip_cap``: gross traction ratio that plain tyres reach on ``film``; None on bare
    mineral ground (no cap). ``film_cap_status`` is its standing. ``frost_depth_m``: depth of frost
    that somebody verified in the field; None means none is credited.
    """

    state: MoistureState = "moist"
    film: SurfaceFilm = "bare mineral"
    film_grip_cap: float | None = None
    film_cap_status: str = ""
    frost_depth_m: float | None = None
    frost_verified_by: str = ""


@dataclass(frozen=True, slots=True)
class DecisionSettings:
    """How setups are judged.

    ``slip_limit``: slip at which traction is counted, a fraction. ``traction_weight``: share of
    the weight that goes to traction need, the rest goes to ground-pressure impact (0 to 1).
    ``measures_share_max``: largest share of the assessed trail metres that may stay short under
    every listed setup while the rest still counts as solved "with measures".
    """

    slip_limit: float = 0.25
    traction_weight: float = 0.5
    measures_share_max: float = 0.05


@dataclass(frozen=True, slots=True)
class Settings:
    """All settings of a run."""

    terrain: TerrainSettings = field(default_factory=TerrainSettings)
    ground: GroundSettings = field(default_factory=GroundSettings)
    decision: DecisionSettings = field(default_factory=DecisionSettings)
