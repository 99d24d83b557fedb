"""Strength of each soil polygon in each moisture state: prior, own readings, posterior.

Prior: the class figures, held down by the relation from soil type and moisture where the polygon
gives both, and by shear readings, which pick a class (the lowest indicator decides). Cone readings
then shrink it, plate readings the bearing capacity.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import geopandas as gpd
import numpy as np
import pandas as pd

from terrain.columns import columns_of
from terrain.mechanics import readings as own
from terrain.mechanics import soil_moisture, soil_strength
from terrain.mechanics.readings import Figures, Summary
from terrain.mechanics.wet_classes import effective_rule
from terrain.models.soil import MOISTURE_STATES

__all__ = ["PolygonStrength", "Strength", "strength_of_polygons"]

UNKNOWN: Figures = (np.nan, np.nan, np.nan)
NONE_READ = Summary(0, np.nan, np.nan)
SAME_PLACE_M = 1.0
"""Readings closer than this count as one place (planning assumption: one stop with the probe)."""


@dataclass(frozen=True, slots=True)
class PolygonStrength:
    """One polygon in one state; figures are (low, likely, high) in kPa.

    ``base_class`` is the class after the state's shift, before computed wetness; ``vane_class``
    the class that shear readings point to (0: none). ``plate`` tells whether plate readings made
    the bearing capacity; otherwise it follows from the cone index.
    """

    base_class: int
    vane_class: int
    prior_from: str
    cone_prior: Figures
    cone: Figures
    cone_read: Summary
    cone_state: str | None
    bearing_prior: Figures
    bearing: Figures
    plate_read: Summary
    plate_state: str | None
    notes: tuple[str, ...] = ()

    @property
    def plate(self) -> bool:
        """Whether plate readings count here."""
        return self.plate_read.n > 0


@dataclass(frozen=True, slots=True)
class Strength:
    """Polygons that differ from the plain class figures, by state and polygon; and the table.

    ``table`` has the columns of ``terrain.columns.TABLES["strength"]``: all polygons in the chosen
    state.
    """

    special: Mapping[tuple[str, str], PolygonStrength] = field(default_factory=dict)
    table: pd.DataFrame = field(default_factory=pd.DataFrame)


def strength_of_polygons(
    soils: gpd.GeoDataFrame,
    readings: gpd.GeoDataFrame | None,
    moisture_state: str | None,
    chosen: str,
    *,
    frost_verified: bool = False,
) -> Strength:
    """Work out the strength of every polygon in every moisture state.

    Parameters
    ----------
    soils : GeoDataFrame
        As in :class:`terrain.inputs.loaded.LoadedBlock`.
    readings : GeoDataFrame or None
        As :func:`terrain.inputs.readings.read_readings` gives them; none is from frozen ground.
    moisture_state : str or None
        State in which ``moisture_percent`` was found.
    chosen : str
        State of the run, for the table.
    frost_verified : bool
        Verified frost: the class figures alone count, readings of thawed ground do not.
    """
    drainage = soil_strength.drainage_rank(soils["drainage"])
    classes = soils["soil_class"].fillna(0).to_numpy(dtype=np.int64)
    by_polygon = {} if readings is None else dict(iter(readings.groupby("polygon")))
    relation = _relation(soils)
    special: dict[tuple[str, str], PolygonStrength] = {}
    rows = []
    for state in MOISTURE_STATES:
        rule = effective_rule(state, frost_verified=frost_verified)
        thawed = rule.state if state == "frozen" else state  # unverified frost counts as moist
        wet = soil_strength.wet_flag(classes, drainage, rule)
        base = soil_strength.shifted_class(classes, wet, rule, frost_verified=frost_verified)
        for number, name in enumerate(soils.index.astype(str)):
            read = by_polygon.get(name) if thawed != "frozen" else None
            held = relation.get(name) if thawed != "frozen" else None
            if held is not None and (
                moisture_state is None or not _reaches(moisture_state, thawed)
            ):
                held = None
            made = _in_state(int(base[number]), read, held, thawed)
            if read is not None or held is not None:
                special[state, name] = made
            if state == chosen:
                rows += _rows(name, state, made)
    table = pd.DataFrame(rows, columns=list(columns_of("strength")))
    return Strength(special, table)


def _reaches(found_in: str, state: str) -> bool:
    """Whether an upper limit found in one state also holds in another: the same, or a wetter."""
    return MOISTURE_STATES.index(state) >= MOISTURE_STATES.index(found_in)  # type: ignore[arg-type]


def _relation(soils: gpd.GeoDataFrame) -> dict[str, Figures]:
    """Rating and plain cone index as low and high, their middle as likely, by polygon."""
    if "uscs" not in soils or "moisture_percent" not in soils:
        return {}
    known = set(soil_moisture.soil_types())
    found = {}
    for name, symbol, percent in zip(
        soils.index.astype(str), soils["uscs"], soils["moisture_percent"], strict=True
    ):
        if symbol in known and np.isfinite(percent):
            low = float(soil_moisture.rating_cone_index_from_moisture_kpa(symbol, percent))
            high = float(soil_moisture.cone_index_from_moisture_kpa(symbol, percent))
            found[name] = (low, (low + high) / 2, high)
    return found


def _class_figures(number: int) -> Figures:
    if number == 0:
        return UNKNOWN
    return soil_strength.soil_classes()[number].cone_index_kpa


def _in_state(
    base: int, read: gpd.GeoDataFrame | None, held: Figures | None, state: str
) -> PolygonStrength:
    notes: list[str] = []
    vane = _vane_class(read, state, notes)
    number = max(base, vane)
    prior = _class_figures(number)
    origin = f"class {number}" if number else "unknown class"
    if vane > base:
        origin = f"class {vane}, picked by shear readings"
    if held is not None and number:
        lower = tuple(min(a, b) for a, b in zip(prior, held, strict=True))
        if lower != prior:
            prior = (lower[0], lower[1], lower[2])
            origin += ", held down by soil type and moisture (relation from memory)"
        else:
            notes.append("soil type and moisture would allow more; the lower figure counts")
    cone, cone_read, cone_state = _updated(prior, read, "cone", state)
    bearing_prior = _bearing(cone)
    bearing, plate_read, plate_state = _updated(bearing_prior, read, "plate", state)
    return PolygonStrength(
        base, vane, origin, prior, cone, cone_read, cone_state,
        bearing_prior, bearing, plate_read, plate_state, tuple(notes),
    )  # fmt: skip


def _bearing(cone: Figures) -> Figures:
    low, likely, high = own.bearing_from_cone_index_kpa(cone)
    return float(low), float(likely), float(high)


def _summary(read: pd.DataFrame) -> Summary:
    """Readings of one kind and state; those within a metre of each other are one place."""
    x, y = read.geometry.x.to_numpy(), read.geometry.y.to_numpy()
    cells = np.column_stack([np.round(x / SAME_PLACE_M), np.round(y / SAME_PLACE_M)])
    _, place = np.unique(cells, axis=0, return_inverse=True)
    return own.summarise(read["value_kpa"].to_numpy(dtype=float), place.ravel())


def _by_state(read: gpd.GeoDataFrame | None, kind: str) -> dict[str, Summary]:
    if read is None:
        return {}
    mine = read[read["kind"] == kind]
    return {str(state): _summary(part) for state, part in mine.groupby("moisture_state")}


def _vane_class(read: gpd.GeoDataFrame | None, state: str, notes: list[str]) -> int:
    """Softest class that shear readings of this state or a drier one point to, 0 for none."""
    least = own.readings_rule().least_places_alone
    picked = 0
    for taken, summary in _by_state(read, "vane").items():
        if summary.n < least:
            notes.append(
                f"{summary.n} shear reading(s) listed, not used: fewer than {least} places"
            )
        elif _reaches(taken, state):
            number = own.class_from_shear(summary.median_kpa)
            notes.append(f"shear {summary.median_kpa:.0f} kPa ({taken}) points to class {number}")
            picked = max(picked, number)
    return picked


def _updated(
    prior: Figures, read: gpd.GeoDataFrame | None, kind: str, state: str
) -> tuple[Figures, Summary, str | None]:
    """Posterior figures, the readings that made it, and the state in which they were taken.

    Readings of the same state shrink the prior. Without any, those of wetter states may raise it
    and then those of drier states lower it, nearest state first; the last one used is named.
    """
    found = _by_state(read, kind)
    if state in found:
        return own.shrunk(prior, found[state]), found[state], state
    order = {name: number for number, name in enumerate(MOISTURE_STATES)}
    here = order[state]  # type: ignore[index]
    figures, summary, taken = prior, NONE_READ, None
    wetter = sorted((s for s in found if order[s] > here), key=lambda s: order[s])  # type: ignore[index]
    drier = sorted((s for s in found if order[s] < here), key=lambda s: -order[s])  # type: ignore[index]
    for other in (*wetter[:1], *drier[:1]):
        after = own.carried_over(figures, own.shrunk(figures, found[other]), other, state)
        if after != figures or taken is None:
            summary, taken = found[other], other
        figures = after
    return figures, summary, taken


def _rows(name: str, state: str, made: PolygonStrength) -> list[tuple]:
    rows = [_row(name, state, "cone index", made.cone_prior, made.cone, made.cone_read,
                 made.cone_state, made.prior_from, "; ".join(made.notes))]  # fmt: skip
    if made.plate:
        rows.append(_row(name, state, "bearing capacity", made.bearing_prior, made.bearing,
                         made.plate_read, made.plate_state, "cone index above", ""))  # fmt: skip
    return rows


def _row(
    name: str,
    state: str,
    measure: str,
    prior: Figures,
    after: Figures,
    read: Summary,
    taken: str | None,
    origin: str,
    note: str,
) -> tuple:
    weight = read.n / (read.n + own.readings_rule().prior_worth_places)
    if read.n and np.isnan(prior[1]):
        weight = 0.0 if np.isnan(after[1]) else 1.0
    if taken is not None and taken != state and state != "frozen":
        said = f"readings of the state {taken} may only {_direction(taken, state)} the figure here"
        note = f"{note}; {said}" if note else said
        weight = weight if after != prior else 0.0
    return (name, state, measure, *prior, origin, taken, read.n, read.median_kpa, read.spread_kpa,
            weight, *after, note or None)  # fmt: skip


def _direction(taken: str, state: str) -> str:
    wetter = MOISTURE_STATES.index(state) > MOISTURE_STATES.index(taken)  # type: ignore[arg-type]
    return "lower" if wetter else "raise"
