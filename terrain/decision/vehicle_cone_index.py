"""Metres of trail that are weaker than the vehicle cone index of a setup: a second opinion.

The index is a rating cone index: what is left of a cone index after the soil has been kneaded. It
was made for fine-grained, level ground and says nothing of what chains do at the surface. It never
enters the verdict.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from terrain.decision.carried import Carried
from terrain.mechanics import cone_index
from terrain.models.settings import GroundSettings

__all__ = ["FLATTERS", "weaker_than_vehicle", "why_not_comparable"]

FLATTERS = "remoulding index not known: compared with the cone index itself, which flatters"
"""Said where nobody measured how much strength the kneaded soil keeps."""


def weaker_than_vehicle(
    stations: pd.DataFrame,
    item: Carried,
    ground: GroundSettings,
    vci1_kpa: float,
    vci50_kpa: float,
) -> dict[str, object]:
    """Metres whose rating cone index is below what the setup needs for one and fifty passes.

    Parameters
    ----------
    stations : DataFrame
        ``cone_index_kpa`` (likely, NaN unknown) and ``length_m``.
    item : Carried
    ground : GroundSettings
        With the remoulding index, where somebody measured it.
    vci1_kpa, vci50_kpa : float
        Vehicle cone indices, kPa; NaN where the form does not apply.

    Returns
    -------
    dict
        ``below_vci1_m``, ``below_vci50_m`` (NaN where there is no index) and ``vci_word``: with
        what the ground was compared, or why not; metres of unknown ground are told there.

    Notes
    -----
    Without a remoulding index the cone index itself is compared. Kneading never strengthens a soil,
    so the true metres are at least those told.
    """
    index = ground.remoulding_index
    strength = stations["cone_index_kpa"].to_numpy(dtype=float)
    rating = cone_index.rating_cone_index_kpa(strength, 1.0 if index is None else index)
    length = stations["length_m"].to_numpy(dtype=float)
    found: dict[str, object] = {
        f"below_{name}_m": float(length[rating < needed].sum())
        if np.isfinite(needed) and np.isfinite(rating).any()
        else np.nan
        for name, needed in (("vci1", vci1_kpa), ("vci50", vci50_kpa))
    }
    if not np.isfinite(vci1_kpa):
        return {**found, "vci_word": why_not_comparable(item)}
    blind_m = float(length[np.isnan(rating)].sum())
    gap = f"; {blind_m:.0f} m more are not known" if blind_m > 0 else ""
    if index is None:
        return {**found, "vci_word": f"{FLATTERS}{gap}"}
    said = ground.remoulding_source or "source not named"
    word = f"compared with the cone index times the remoulding index {index:g} ({said})"
    return {**found, "vci_word": f"{word}{gap}"}


def why_not_comparable(item: Carried) -> str:
    """Why the setup has no vehicle cone index, in words."""
    machine = item.machine
    kinds = {g.aid.kind if g.aid else "bare" for g in item.groups}
    if "wheel track" in kinds:
        return "not comparable: the form knows no wheel tracks"
    if "dual tyres" in kinds:
        return "not comparable: the form knows no dual tyres"
    if len(kinds) > 1:
        return "not comparable: the axles carry different gear"
    if machine.front.tyre.designation != machine.rear.tyre.designation:
        return "not comparable: front and rear tyres differ"
    if not all(group.driven for group in machine.groups):
        return "not comparable: made for machines with all axles driven"
    if machine.engine_power_kw is None or machine.ground_clearance_m is None:
        return "not computed: engine power or ground clearance is not given"
    if kinds == {"band track"} and any(
        g.aid is not None and None in (g.aid.shoe_area_m2, g.aid.grouser_height_m)
        for g in item.groups
    ):
        return "not computed: the catalogue gives no shoe area or grouser height"
    return "not computed: so light a machine lies outside the form"
