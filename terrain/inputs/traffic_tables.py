"""The keys of a block file about timber, passes, brash and the site's rule."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from terrain.inputs.toml_files import StrictTable

__all__ = [
    "BrashTable",
    "ProfileFile",
    "ProfileTable",
    "SiteRulesTable",
    "StandTable",
    "TrafficTable",
]


class TrafficTable(StrictTable):
    """``[traffic]``: how much timber goes over the trails, in what loads."""

    green_density_kg_m3: float | None = Field(
        default=None, ge=300, le=1500, description="mass of fresh timber, kg per solid m3"
    )
    volume_m3_per_ha: float | None = Field(
        default=None, ge=0, le=3000, description="volume cut, solid m3 per hectare"
    )
    served_width_m: float | None = Field(
        default=None, gt=0, le=500, description="width of the strip that a trail serves, metres"
    )
    trail_width_m: float | None = Field(
        default=None, gt=0, le=30, description="width of trails without an own width, metres"
    )
    harvester_passes: int = Field(
        default=1, ge=0, le=20, description="passes of the harvester over each trail"
    )
    assortment_runs: int = Field(
        default=1, ge=1, le=30, description="assortments fetched in runs of their own"
    )


class StandTable(StrictTable):
    """``[stand]``: a layer of stands with their volume."""

    file: str = Field(min_length=1, description="path relative to the block file")
    layer: str | None = Field(default=None, min_length=1, description="layer name inside the file")
    volume_m3_per_ha: str = Field(
        min_length=1, description="column with the volume cut, solid m3 per hectare"
    )


class SiteRulesTable(StrictTable):
    """``[site_rules]``: the rule about ruts and trails that holds here."""

    profile: str = Field(min_length=1, description="key of a profile; 'rutwise rules' lists them")
    file: str | None = Field(
        default=None, min_length=1, description="own profile file, relative to the block file"
    )


class BrashTable(StrictTable):
    """``[brash]``: what the stand can give to cover its trails."""

    residue_kg_per_ha: float = Field(
        gt=0, le=500_000, description="branches and tops left, kg per hectare"
    )
    share_on_trail: float = Field(
        default=1.0, gt=0, le=1, description="share of them laid on the trails, 0 to 1"
    )
    spacing_m: float | None = Field(
        default=None, gt=0, le=500, description="trail spacing, metres; else served_width_m"
    )
    basis: str = Field(default="", description='"fresh" or "dry" mass, as you know it')


class ProfileTable(StrictTable):
    """One ``[[profile]]`` of an own profile file."""

    key: str = Field(min_length=1, description="short name")
    title: str = Field(min_length=1, description="the rule in one line")
    place: str = ""
    depth_mineral_cm: float | None = Field(
        default=None, gt=0, le=200, description="a rut counts beyond this depth, mineral soil, cm"
    )
    depth_organic_cm: float | None = Field(
        default=None, gt=0, le=200, description="a rut counts beyond this depth, organic soil, cm"
    )
    min_length_m: float = Field(default=0.0, ge=0, le=1000, description="shortest rut, metres")
    reference_surface: str = Field(min_length=1, description="surface that depth starts from")
    share_of: Literal["trail length", "block area"] = Field(
        default="trail length", description="share of what"
    )
    counts: Literal["ruts", "trails"] = Field(
        default="ruts", description="what counts: ruts or trails"
    )
    max_share: float | None = Field(default=None, ge=0, le=1, description="a share, 0.1 is 10 %")
    severity_shares: list[float] = Field(default=[], description="class edges of the share")
    action: str = Field(min_length=1, description="what follows when it is exceeded")
    source: str = Field(min_length=1, description="where the rule stands")
    where: str = ""
    date: str = Field(min_length=1, description="date of your copy")
    note: str = ""


class ProfileFile(StrictTable):
    """A whole own profile file."""

    profile: list[ProfileTable] = Field(min_length=1, description="the profiles")
