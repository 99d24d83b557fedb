"""Everything about a run that is neither machine nor map: thresholds, states, weights."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from terrain.models.soil import MoistureState, SurfaceFilm

__all__ = [
    "BrashSettings",
    "DecisionSettings",
    "DoubtSettings",
    "FilmCap",
    "FlowSettings",
    "GroundSettings",
    "Settings",
    "TerrainSettings",
    "TrafficSettings",
]


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
class FilmCap:
    """Gross traction ratio that plain tyres reach on a surface film, and the figure's standing.

    ``cap_with_aids`` is that of chains and grousers that bite into the film without reaching the
    ground below, the planner's figure; None where there is none. ``aids_status`` is its standing.
    """

    film: SurfaceFilm
    grip_cap: float
    status: str
    cap_with_aids: float | None = None
    aids_status: str = ""


@dataclass(frozen=True, slots=True)
class GroundSettings:
    """State of the ground in this run.

    ``film`` lies on every trail that names none of its own. ``film_grip_cap``: gross traction
    ratio that plain tyres reach on it; None on bare mineral ground (no cap) and where no figure is
    known. ``film_cap_status`` is its standing. ``film_grip_cap_with_aids`` and
    ``film_aids_status``: the same for chains and grousers that bite into the film; None where
    nobody gave a figure. ``film_caps``: the known figures of the films that single trails may name.
    ``frost_depth_m``: depth of frost that somebody verified in the field; None means none is
    credited. ``remoulding_index``: strength that the soil keeps when it is kneaded, over its cone
    index (0 to 1); None where nobody measured it. ``remoulding_source`` says where it comes from.
    """

    state: MoistureState = "moist"
    film: SurfaceFilm = "bare mineral"
    film_grip_cap: float | None = None
    film_cap_status: str = ""
    film_caps: tuple[FilmCap, ...] = ()
    frost_depth_m: float | None = None
    frost_verified_by: str = ""
    film_grip_cap_with_aids: float | None = None
    film_aids_status: str = ""
    remoulding_index: float | None = None
    remoulding_source: str = ""

    def cap_of(self, film: str) -> FilmCap | None:
        """Known grip of plain tyres on ``film``; None on bare ground and where none is known."""
        if film == self.film:
            cap, status = self.film_grip_cap, self.film_cap_status
            aids, standing = self.film_grip_cap_with_aids, self.film_aids_status
            return None if cap is None else FilmCap(self.film, cap, status, aids, standing)
        return next((known for known in self.film_caps if known.film == film), None)

    def cap_with_aids(self, film: str) -> float | None:
        """Grip of chains and tracks that bite into ``film``, a ratio; None where none is known."""
        if film == self.film:
            return self.film_grip_cap_with_aids
        found = self.cap_of(film)
        return None if found is None else found.cap_with_aids


@dataclass(frozen=True, slots=True)
class FlowSettings:
    """How water is routed, and how near to it a machine may come.

    ``margin_m``: DEM read round the trails for the flow. ``cap_m``: where the search for
    depth-to-water stops, metres. ``form``: slope that a step of it counts. A filled hollow is
    listed from ``depression_min_depth_m`` or ``depression_min_area_m2``. ``burn_depth_m``: by how
    much mapped water is lowered before routing (None: not at all). ``buffer_width_m``: machine-free
    strip on each side of water (None: none is stated). The three flags add options.
    """

    margin_m: float = 500.0
    cap_m: float = 2.0
    form: Literal["target cell", "mean of both cells"] = "target cell"
    depression_min_depth_m: float = 0.3
    depression_min_area_m2: float = 50.0
    burn_depth_m: float | None = None
    buffer_width_m: float | None = None
    dry_16_ha: bool = False
    above_stream: bool = False
    wetness_index: bool = False


@dataclass(frozen=True, slots=True)
class TrafficSettings:
    """How much timber goes over the trails, in what loads.

    ``green_density_kg_m3``: mass of fresh timber, kg per solid m3; None: no passes are computed.
    ``volume_m3_per_ha``, ``served_width_m``, ``trail_width_m``: for trails that have no figure of
    their own; None: unknown. ``harvester_passes`` over each trail (planning assumption).
    ``assortment_runs``: assortments fetched in runs of their own, a lower bound of the loads.
    """

    green_density_kg_m3: float | None = None
    volume_m3_per_ha: float | None = None
    served_width_m: float | None = None
    trail_width_m: float | None = None
    harvester_passes: int = 1
    assortment_runs: int = 1


@dataclass(frozen=True, slots=True)
class BrashSettings:
    """Branches and tops: kg per hectare, the share laid on trails, trail spacing in metres.

    ``spacing_m`` None: the served width of the traffic settings. ``basis`` says fresh or dry.
    """

    residue_kg_per_ha: float
    share_on_trail: float = 1.0
    spacing_m: float | None = None
    basis: str = ""


@dataclass(frozen=True, slots=True)
class DecisionSettings:
    """How setups are judged.

    ``slip_limit``: slip at which traction is counted, a fraction. ``traction_weight``: share of
    the weight that goes to traction need, the rest goes to ground-pressure impact (0 to 1).
    ``measures_share_max``: largest share of the assessed trail metres that may stay short under
    every listed setup while the rest still counts as solved "with measures". ``thin_reserve``:
    traction reserve (ratio) below which a stretch is listed although it passes.
    ``reroute_corridor_m``: how far to each side of a trail another line is searched, metres.
    ``payload_shares``: shares of the full load that are compared.
    """

    slip_limit: float = 0.25
    traction_weight: float = 0.5
    measures_share_max: float = 0.05
    thin_reserve: float = 0.03
    reroute_corridor_m: float = 60.0
    payload_shares: tuple[float, ...] = (1.0,)


@dataclass(frozen=True, slots=True)
class DoubtSettings:
    """What is varied to see how sure the answer is, and how often.

    ``draws`` made from ``seed``. ``dem_error_m``: random vertical error of one cell of the
    elevation, standard deviation in metres; ``dem_error_range_m``: distance from which on errors
    of two cells no longer hold together (None: they are independent).
    ``payload_spread_percent``, ``density_spread_percent``: standard deviation of a load's mass
    from load to load, and of the timber's green density, percent. None: not varied, and said so.
    """

    draws: int = 300
    seed: int = 1
    dem_error_m: float | None = None
    dem_error_range_m: float | None = None
    payload_spread_percent: float | None = None
    density_spread_percent: float | None = None


@dataclass(frozen=True, slots=True)
class Settings:
    """All settings of a run."""

    terrain: TerrainSettings = field(default_factory=TerrainSettings)
    ground: GroundSettings = field(default_factory=GroundSettings)
    decision: DecisionSettings = field(default_factory=DecisionSettings)
    flow: FlowSettings = field(default_factory=FlowSettings)
    traffic: TrafficSettings = field(default_factory=TrafficSettings)
    brash: BrashSettings | None = None
    doubt: DoubtSettings = field(default_factory=DoubtSettings)
