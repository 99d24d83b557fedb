"""An axle group with what it carries: the contact that it presents to the ground."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from terrain.mechanics import contact, traction
from terrain.models.aids import Aid, Mount
from terrain.models.machine import AxleGroup

__all__ = ["Mounted", "mounted"]

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Mounted:
    """One axle group and the aid on it; all lengths in metres.

    ``tyres`` is the number of tyres that share the load (dual tyres double it). ``area_m2`` is the
    nominal contact area of the whole group on hard ground; ``bare_area_m2`` that of its bare
    tyres. ``contact_length_m`` is the length of one contact.
    """

    group: AxleGroup
    aid: Aid | None
    tyres: int
    area_m2: float
    bare_area_m2: float
    contact_length_m: float

    @property
    def aid_mass_kg(self) -> float:
        """Mass of the aid on this group, kg."""
        return self.aid.mass_kg if self.aid else 0.0

    @property
    def thickness_m(self) -> float:
        """What the aid adds to the rolling radius, m."""
        return self.aid.thickness_m if self.aid else 0.0

    @property
    def inflation_kpa(self) -> float:
        """Inflation that the contact is worked out with, kPa.

        Under a band track the charted pressure, because a band needs it: a tyre that is set lower
        earns no credit for its softness there. Practice of the trade, no source. NaN there where
        the charted pressure is not known: what the set one would earn is not known either.
        """
        tyre = self.group.tyre
        if not self.is_banded:
            return tyre.inflation_kpa
        charted = tyre.charted_inflation_kpa
        return np.nan if charted is None else max(tyre.inflation_kpa, charted)

    @property
    def is_banded(self) -> bool:
        """Whether band tracks run round the group's wheels."""
        return self.aid is not None and self.aid.kind == "band track"

    @property
    def rated_load_holds(self) -> bool:
        """Whether the tyre is worked with at no less than the pressure that its rating holds for.

        A tyre's rated load stands in its load table beside a cold pressure. Set lower, it carries
        less; how much, only the table says. Without a charted pressure the rating is taken as
        entered for the pressure that is set.
        """
        charted = self.group.tyre.charted_inflation_kpa
        return charted is None or self.inflation_kpa >= charted

    def nominal_pressure_kpa(self, load_kn: ArrayLike) -> Floats:
        """Nominal ground pressure in kPa under a group load in kN (any shape)."""
        return np.asarray(load_kn, float) / self.area_m2

    def mobility_number(self, cone_index_kpa: ArrayLike, load_kn: ArrayLike) -> Floats:
        """Mobility number of the group on ground of this cone index (kPa) under this load (kN).

        Bare, chained and dual wheels: the Brixius number of one tyre with its share of the load.
        Wheel tracks and band tracks: the same number of the bare wheels under the same load, times
        the gain in nominal contact (:func:`terrain.mechanics.traction.track_number`).
        """
        tyre = self.group.tyre
        load = np.asarray(load_kn, float) / self.tyres
        ratio = contact.deflection_ratio(load, self.inflation_kpa, tyre.section_height_m)
        bn = traction.brixius_number(
            cone_index_kpa, tyre.width_m, tyre.diameter_m, load, np.clip(ratio, 0.0, None)
        )
        if self.aid is not None and self.aid.kind in ("wheel track", "band track"):
            return traction.track_number(bn, 1 / self.bare_area_m2, 1 / self.area_m2)
        return bn

    def outside_brixius(self, load_kn: ArrayLike) -> NDArray[np.bool_]:
        """True where the stated range of the Brixius number is left (load in kN, any shape)."""
        from terrain.mechanics.relations import outside_validity

        tyre = self.group.tyre
        load = np.asarray(load_kn, float) / self.tyres
        return outside_validity(
            "brixius_number",
            width_over_diameter=tyre.width_m / tyre.diameter_m,
            deflection_ratio=contact.deflection_ratio(
                load, self.inflation_kpa, tyre.section_height_m
            ),
            load_over_size_kpa=load / (tyre.width_m * tyre.diameter_m),
        )


def mounted(group: AxleGroup, mount: Mount) -> Mounted:
    """Work out the contact of an axle group with what it carries.

    Parameters
    ----------
    group : AxleGroup
    mount : Mount
        Same left and right, at most one aid a wheel; the mounting rules exclude anything else.

    Raises
    ------
    ValueError
        For a mount that the rules exclude (two aids on a wheel, sides that differ, a band track
        without a bogie).

    Notes
    -----
    Nominal areas: tyre ``r b``; wheel track ``(r + t) b_track``; band track ``b L`` a side with the
    catalogue's contact length or :func:`terrain.mechanics.contact.bogie_contact_length_m`; dual
    tyres the inner ``r b`` plus the outer's own. Load is taken as shared evenly by the wheels of a
    group (planning assumption; a smaller outer dual carries less on firm ground).
    """
    tyre = group.tyre
    bare_area = group.wheels * tyre.radius_m * tyre.width_m
    if mount.left != mount.right or len(mount.left) > 1:
        raise ValueError("only the same single aid left and right can be worked out")
    aid = mount.aid
    if aid is None or aid.kind == "chains":
        return Mounted(group, aid, group.wheels, bare_area, bare_area, tyre.radius_m)
    if aid.kind == "band track":
        if group.bogie_spacing_m is None or group.kind != "bogie":
            raise ValueError(f"a band track needs a bogie; the {group.name} group is none")
        length = aid.contact_length_m or float(
            contact.bogie_contact_length_m(group.bogie_spacing_m, tyre.diameter_m)
        )
        width = aid.width_m or tyre.width_m
        return Mounted(group, aid, group.wheels, 2 * width * length, bare_area, length)
    if aid.kind == "wheel track":
        length = aid.contact_length_m or tyre.radius_m + aid.thickness_m
        width = aid.width_m or tyre.width_m
        return Mounted(group, aid, group.wheels, group.wheels * width * length, bare_area, length)
    outer_radius = (aid.outer_diameter_m or tyre.diameter_m) / 2
    outer_width = aid.width_m or tyre.width_m
    area = bare_area + group.wheels * outer_radius * outer_width
    return Mounted(group, aid, 2 * group.wheels, area, bare_area, tyre.radius_m)
