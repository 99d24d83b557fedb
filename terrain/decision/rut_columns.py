"""Traffic and ruts of the shown setup as columns, and the standing of what they rest on."""

from __future__ import annotations

import numpy as np
import pandas as pd

from terrain.decision.brash import brash_need
from terrain.decision.carried import Carried
from terrain.decision.check_sheet import CheckSheet
from terrain.decision.exposure import mass_driven_t
from terrain.decision.results import StatusRow
from terrain.decision.ruts import Ruts, rut_class
from terrain.mechanics import relations
from terrain.mechanics.rutting import STRENGTH_LIMIT_KPA
from terrain.models.settings import Settings
from terrain.models.site_rules import DATED_COPY

__all__ = ["rut_columns", "traffic_sentences", "traffic_status_rows"]

_RELATIONS = (
    "rut_maclaurin",
    "rut_willoughby_turnage",
    "rut_multi_pass",
    "rut_exponents",
)
_ASSUMED = "planning assumption"


def rut_columns(ruts: Ruts, shown: Carried, index: pd.Index) -> pd.DataFrame:
    """Passes, loads, mass driven over (t) and rut classes of the shown setup, on ``index``."""
    k = ruts.column(shown.setup.id)
    table = pd.DataFrame(
        {
            "passes": ruts.passes[:, k],
            "loads": ruts.loads[:, k],
            "mass_driven_t": mass_driven_t(shown, ruts.loads[:, k]),
        },
        index=index,
    )
    for name, depth in (
        ("rut_class", ruts.likely_cm),
        ("rut_class_low", ruts.low_cm),
        ("rut_class_high", ruts.high_cm),
    ):
        numbers = pd.array(rut_class(depth[:, k]), dtype="Int64")
        numbers[numbers == 0] = pd.NA
        table[name] = numbers
    return table


def traffic_status_rows(sheet: CheckSheet, settings: Settings) -> tuple[StatusRow, ...]:
    """List what passes, ruts, brash and the rule rest on."""
    known = relations.relations()
    rows = [
        StatusRow(r.title, r.equation, r.status, r.source, r.where)
        for r in (known[name] for name in _RELATIONS)
    ]
    rows.append(_kneaded_row(settings))
    traffic = settings.traffic
    if traffic.green_density_kg_m3 is not None:
        value = f"{traffic.green_density_kg_m3:g} kg/m3"
        rows.append(
            StatusRow("Density of fresh timber", value, _ASSUMED, "", "block file: your figure")
        )
    rows += [
        StatusRow(
            "Strength above which no rut is predicted",
            f"{STRENGTH_LIMIT_KPA:g} kPa",
            _ASSUMED,
            "western_carpathians_2017",
            "no relation found on dry ground of some 4 to 5 MPa",
        ),
        StatusRow(
            "Harvester passes", f"{traffic.harvester_passes}", _ASSUMED, "", "block file, editable"
        ),
        StatusRow(
            "Wheels that count as passes",
            "each wheel of one side, under a band track too; the harvester as an empty trip",
            _ASSUMED,
            "",
        ),
        StatusRow(
            "Classes of trails by passes",
            "1-2, 3-5, 6-10, over 10; empty passes and the harvester counted",
            "published",
            "mohtashami_2017",
            "table 1; that empty passes count is our reading",
        ),
    ]
    if sheet.brash is not None:
        need = brash_need()
        value = f"{need.low:g} to {need.high:g} kg/m2"
        rows.append(
            StatusRow("Brash on sensitive ground", value, need.status, need.source, need.where)
        )
    if sheet.profile is not None:
        rule = sheet.profile
        note = f"{rule.where}; {rule.date}; {DATED_COPY}"
        rows.append(StatusRow(f"Site's rule: {rule.title}", rule.key, rule.status, "", note))
        if rule.status == "published":
            rows[-1] = StatusRow(rows[-1].name, rule.key, rule.status, rule.source, note)
    return tuple(rows)


def _kneaded_row(settings: Settings) -> StatusRow:
    """Which strength the second rut form was given."""
    name, index = "Strength in the second rut form", settings.ground.remoulding_index
    if index is None:
        value = "the cone index itself stands in for the rating cone index, which flatters"
        return StatusRow(name, value, _ASSUMED, "", "no remoulding index in the block file")
    value = f"cone index times the remoulding index {min(index, 1.0):g}"
    said = settings.ground.remoulding_source or "source not named"
    return StatusRow(name, value, f"user's figure: {said}", "", "block file")


def traffic_sentences(sheet: CheckSheet, settings: Settings) -> tuple[str, ...]:
    """Say what nobody could look at about passes, ruts and brash."""
    said = []
    if settings.traffic.green_density_kg_m3 is None:
        said.append(
            "No density of fresh timber is given ([traffic] green_density_kg_m3): loads, passes "
            "and ruts were not computed."
        )
    if sheet.unknown_volume_m > 0:
        said.append(
            f"On {sheet.unknown_volume_m:.0f} m of trail the volume that passes is not known: the "
            "trail, or one upstream of it, has no volume."
        )
    if sheet.too_strong_m > 0:
        said.append(
            f"On {sheet.too_strong_m:.0f} m the ground is stronger than the rut relations reach: "
            "no rut is predicted there, which does not mean that none comes."
        )
    if sheet.against_m > 0:
        said.append(
            f"On {sheet.against_m:.0f} m loads of trails assigned to another landing also travel "
            "against the direction that was assessed."
        )
    if sheet.profile is None:
        said.append(
            "No rule about ruts is named ([site_rules] profile; 'rutwise rules' lists some): "
            "nothing was held against one."
        )
    if sheet.area.unknown_m > 0:
        said.append(f"{sheet.area.unknown_m:.0f} m of trail have no width: their area is missing.")
    if np.isnan(sheet.area.block_m2):
        said.append("No boundary is given: the share of the block in trails is not known.")
    said.append(
        "Turning places, the harvester's own mass, ruts older than this harvest, and traffic off "
        "the trails are not assessed."
    )
    return tuple(said)
