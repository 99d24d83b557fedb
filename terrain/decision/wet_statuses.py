"""The standing of what wet ground rests on, and what about it was not assessed."""

from __future__ import annotations

import numpy as np
import pandas as pd

from terrain.decision.results import StatusRow
from terrain.decision.water_met import has_crossing
from terrain.decision.wet_results import WetGround
from terrain.inputs.loaded import LoadedBlock
from terrain.mechanics.readings import readings_rule, shear_classes
from terrain.mechanics.soil_strength import state_rules
from terrain.mechanics.wet_classes import water_rule
from terrain.models.settings import Settings
from terrain.models.soil import MOISTURE_STATES

__all__ = ["wet_sentences", "wet_status_rows"]

EDGE_SHARE_TO_SAY = 0.05
"""Below this share of channel cells the cut catchments are not worth a sentence (assumption)."""


def wet_status_rows(block: LoadedBlock, settings: Settings) -> tuple[StatusRow, ...]:
    """Rules about wetness and readings that shaped the result, each with its standing."""
    flow, rule = settings.flow, water_rule()
    areas = ", ".join(
        f"{state} {state_rules()[state].flow_initiation_ha:g} ha" for state in MOISTURE_STATES
    )
    rows = [
        StatusRow(
            "Channels start at a catchment of",
            areas,
            "planning assumption",
            "murphy_2009",
            "flow-initiation areas; which state each stands for is from memory",
        ),
        StatusRow(
            "Depth to water that counts as wet",
            f"{rule.wet_up_to_m:g} m and less; searched down to {flow.cap_m:g} m, slope of the "
            f"{flow.form}",
            rule.wet_status,
            rule.source,
            rule.where,
        ),
        StatusRow(
            "What a small depth to water does to a soil class",
            f"{rule.shift} class softer, never beyond class {rule.softest_class} by itself, and "
            "not where the polygon's class or drainage is wet already",
            rule.status,
            rule.source,
            "soil type leads, wetness modifies",
        ),
        StatusRow(
            "Depressions listed",
            f"from {flow.depression_min_depth_m:g} m depth or {flow.depression_min_area_m2:g} m2",
            "planning assumption",
            "",
            "block file, editable",
        ),
    ]
    readings = block.water.readings
    if readings is not None and len(readings):
        worth = readings_rule()
        rows.append(
            StatusRow(
                "Weight of own readings",
                f"n / (n + {worth.prior_worth_places:g}) with n places; the class figure the rest",
                worth.status,
                "",
                "median of the places, robust spread",
            )
        )
        if (readings["kind"] == "vane").any():
            shear = shear_classes()
            rows.append(
                StatusRow(
                    "Class that shear readings point to",
                    f"above {shear.class_1_above_kpa:g} kPa class 1, above "
                    f"{shear.class_2_above_kpa:g} kPa class 2, below it class 3",
                    shear.status,
                    shear.source,
                    shear.where,
                )
            )
    if block.water.moisture_state is not None:
        rows.append(
            StatusRow(
                "Cone index from soil type and moisture",
                "exp(a - b ln w), rating cone index held at the cone index; used only where it is "
                "below the class figure",
                "from memory",
                "frankenstein_koenig_2004",
                "table 5.2.1, after Sullivan et al. 1997; form and unit from memory",
            )
        )
    return tuple(rows)


def wet_sentences(stations: pd.DataFrame, wet: WetGround, settings: Settings) -> tuple[str, ...]:
    """Say where the wetness is too dry, unknown, or rests on computed channels alone."""
    said = []
    for area, share in wet.edge_share.items():
        label = f"Channels from {area:g} ha"
        if np.isnan(share):
            said.append(
                f"{label}: there is none on the {wet.routed_ha:.0f} ha on which water was routed. "
                "Depth to water is too dry there unless water is mapped."
            )
        elif share >= EDGE_SHARE_TO_SAY:
            said.append(
                f"{label}: {share:.0%} of their cells have a catchment that the edge of the "
                "elevation model cuts, so channels start too late there and the ground is shown "
                "too dry. Bring a wider elevation model, or raise margin_m in [flow]."
            )
    unknown = float(stations["length_m"][stations["wet"].isna()].sum())
    if unknown:
        said.append(f"On {unknown:.0f} m it is not known whether the ground is wet.")
    if wet.streams is None and wet.open_water is None:
        said.append(
            "No water is mapped: streams, springs, ditches and ponds that the elevation model does "
            "not show are missing."
        )
    if any(has_crossing(run) for run in wet.water_runs.to_dict("records")):
        said.append(
            "The metres at mapped crossings are judged as the ground beside them: what a deck or a "
            "fill bears, and how long it is, is not known here."
        )
    if wet.buffer_words == "not stated":
        said.append("No machine-free strip along water is stated, so none is checked.")
    if settings.ground.state == "frozen":
        said.append(
            "Frozen ground was taken as verified on every trail; springs, running water and snow "
            "keep ground unfrozen."
        )
    said.append(
        "Depth to water is computed from the shape of the ground. It knows no drains, no springs "
        "and no weather, it is small on level ground far from water, and in a survey of ruts it "
        "was not significant by itself: it marks where to look, and no more."
    )
    return tuple(said)
