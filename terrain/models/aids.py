"""Traction aids as the catalogue describes them, and which wheels carry which."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Literal

__all__ = ["BARE", "SUPPLIERS_FIGURE", "Aid", "AidEffect", "AidKind", "Mount", "Setup"]

AidKind = Literal["chains", "wheel track", "band track", "dual tyres"]
BandKind = Literal["open traction", "closed flotation"]

SUPPLIERS_FIGURE = "supplier's figure"
"""Standing of a figure that the planner took from the supplier, with its source named."""


@dataclass(frozen=True, slots=True)
class AidEffect:
    """One effect of an aid by the user's catalogue, in the place of the generic one.

    ``quantity`` is a name of ``terrain/data/effects.toml``, which also gives the unit of
    ``likely``, ``low`` and ``high``; all three None where only ``note`` says something. ``source``
    is the user's word for where it comes from.
    """

    quantity: str
    source: str
    status: str = SUPPLIERS_FIGURE
    likely: float | None = None
    low: float | None = None
    high: float | None = None
    note: str = ""


@dataclass(frozen=True, slots=True)
class Aid:
    """One entry of the aid catalogue.

    ``mass_kg`` is for one axle group, both sides: a pair of chains, a pair of wheel tracks, the
    two band tracks of a bogie, the two outer wheels of a dual axle. ``axle_kind`` names the kind of
    group that the row is made up for, because chains for a bogie are two pairs; None means either.
    ``width_m`` is the contact width (None for chains, which leave the tyre's own);
    ``contact_length_m`` the contact length on hard ground (None: derived from the wheel or the
    bogie spacing). ``fits_tyres`` are standard size designations; empty means the catalogue does
    not say. ``thickness_m`` raises the rolling radius.
    ``grip_through_film`` is True when the aid bites: through a thin film, into packed snow and ice.
    ``grip_factor`` multiplies the gross-traction envelope on soil, where a film lets it count.
    ``resistance_factor`` multiplies the motion resistance of the wheels that carry the aid (its
    mass and contact are counted before). ``rut_factor`` is the rut over that of the bare wheels
    under the same load, those under a band at their charted pressure; None: the rut follows from
    the contact. Both are the user's figures.
    ``effects`` are the user's figures with source and range, those that set a field included.
    ``status`` maps a field name to the standing of its value (a word of terrain.sources.STATUSES,
    or "supplier's figure"); ``source`` says where the catalogue took the row from.
    """

    key: str
    name: str
    kind: AidKind
    mass_kg: float
    band_kind: BandKind | None = None
    axle_kind: Literal["single", "bogie"] | None = None
    width_m: float | None = None
    contact_length_m: float | None = None
    thickness_m: float = 0.0
    grouser_height_m: float | None = None
    shoe_inner_width_m: float | None = None
    shoe_area_m2: float | None = None
    outer_diameter_m: float | None = None
    fits_tyres: tuple[str, ...] = ()
    grip_through_film: bool = False
    grip_factor: float = 1.0
    resistance_factor: float = 1.0
    rut_factor: float | None = None
    speed_cap_km_h: float | None = None
    effects: tuple[AidEffect, ...] = ()
    source: str = ""
    status: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))
    notes: str = ""


@dataclass(frozen=True, slots=True)
class Mount:
    """What the wheels of one axle group carry, left and right; an empty tuple is bare."""

    left: tuple[Aid, ...] = ()
    right: tuple[Aid, ...] = ()

    @classmethod
    def both_sides(cls, *aids: Aid) -> Mount:
        """Return the same aids left and right."""
        return cls(tuple(aids), tuple(aids))

    @property
    def is_bare(self) -> bool:
        """True when neither side carries anything."""
        return not self.left and not self.right

    @property
    def aid(self) -> Aid | None:
        """The one aid carried on both sides, None when bare.

        Only meaningful for mounts that the rules keep (same left and right, one aid a wheel).
        """
        return self.left[0] if self.left else None


BARE = Mount()


@dataclass(frozen=True, slots=True)
class Setup:
    """One mount per axle group, front first. ``id`` is stable: ``chains-26 + bare``."""

    id: str
    mounts: tuple[Mount, Mount]

    @property
    def front(self) -> Mount:
        """What the front group carries."""
        return self.mounts[0]

    @property
    def rear(self) -> Mount:
        """What the rear group carries."""
        return self.mounts[1]

    @property
    def is_bare(self) -> bool:
        """True for the baseline without any aid."""
        return self.front.is_bare and self.rear.is_bare
