"""Read a machine file and check that its figures can belong to one machine."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from terrain.errors import Issue, Severity, errors_in
from terrain.inputs.machine_tables import PLAUSIBLE, GroupTable, LoadTable, MachineFile
from terrain.inputs.toml_files import check_table, read_toml, without_unknown_keys
from terrain.inputs.tyre_checks import tyre_from
from terrain.inputs.unit_slips import slip_advice
from terrain.models.machine import AxleGroup, Crane, Load, Machine

if TYPE_CHECKING:
    from terrain.inputs.loaded import InputFile

__all__ = ["ISSUE_CODES", "MASS_TOLERANCE", "machine_from", "read_machine"]

ISSUE_CODES = {
    "MCH01": "a figure is implausible for a wheeled forest machine",
    "MCH02": "the masses do not add up",
    "MCH03": "wheels, bogie spacing and kind of axle do not agree",
    "MCH04": "a tyre designation is not understood, or lacks dimensions it cannot give",
    "MCH05": "tyre dimensions contradict the designation",
    "MCH06": "inflation is above the charted pressure, or below the lowest that is permitted",
    "MCH07": "a rated mass is below the mass it must carry",
    "MCH08": "the load does not suit the kind of machine",
    "MCH09": "the load's centre cannot be right",
    "MCH10": "the dimensions of the machine do not fit together",
    "MCH11": "no axle is driven",
    "MCH12": "a figure is missing, so a check or a cap is left out",
    "MCH13": "tyres are set below their charted pressure, for which their rated load holds",
    "MCH14": "the designation is that of a radial tyre, the construction says bias",
    "MCH15": "the figures of the crane contradict each other or the machine",
}
"""Issue codes of this module and of :mod:`terrain.inputs.tyre_checks`."""

MASS_TOLERANCE = 0.005
"""Front plus rear may differ from the unladen mass by this share of it (rounding of a scale)."""


def read_machine(
    path: str | Path, name: str | None = None
) -> tuple[Machine | None, InputFile | None, list[Issue]]:
    """Read, check and build the machine in the TOML file at ``path``.

    Parameters
    ----------
    path : str or Path
    name : str, optional
        File name to show and to record; ``path`` by default.

    Returns
    -------
    Machine or None
        None when there is an error.
    InputFile or None
        Role ``machine`` with the digest of the bytes read; None when the file is not readable.
    list of Issue
        Every fault of the file at once.
    """
    from terrain.inputs.loaded import InputFile

    where = name or str(path)
    file, issues = read_toml(path, "machine file")
    if file is None:
        return None, None, issues
    record = InputFile("machine", where, file.sha256)
    machine, found = machine_from(file.table, where)
    return machine, record, issues + found


def machine_from(table: dict[str, Any], where: str) -> tuple[Machine | None, list[Issue]]:
    """Check the parsed ``table`` of a machine file and build the machine; see read_machine."""
    checked, issues = check_table(MachineFile, table, where)
    issues += _implausible(table, where)
    if checked is None:
        checked, _ = check_table(MachineFile, without_unknown_keys(MachineFile, table), where)
    if checked is None:
        return None, issues
    tyres = {}
    for name in ("front", "rear"):
        group = getattr(checked, name)
        tyres[name], found = tyre_from(group.tyre, f"{where}, {name}.tyre")
        issues += found + _group_issues(group, f"{where}, {name}")
    issues += _mass_issues(checked, where) + _load_issues(checked, where)
    issues += _unrated_issues(checked, where)
    issues += _driven_issues(checked, where) + _crane_issues(checked, where)
    front, rear = tyres["front"], tyres["rear"]
    if errors_in(issues) or front is None or rear is None:
        return None, issues
    keys = checked.machine.model_dump(exclude={"unladen_rear_kg"})
    groups = (_group("front", checked.front, front), _group("rear", checked.rear, rear))
    load = None if checked.load is None else _load(checked.load)
    crane = None if checked.crane is None else Crane(**checked.crane.model_dump())
    machine = Machine(groups=groups, load=load, crane=crane, **keys)
    issues += _size_issues(machine, where)
    return (None if errors_in(issues) else machine), issues


def _group(name: Literal["front", "rear"], table: GroupTable, tyre: Any) -> AxleGroup:
    keys = table.model_dump(exclude={"wheels", "tyre"})
    return AxleGroup(name=name, tyre=tyre, **keys)


def _load(table: LoadTable) -> Load:
    pull_height = table.centre_height_m if table.pull_height_m is None else table.pull_height_m
    share = 1.0 if table.carried_share is None else table.carried_share
    return Load(
        mass_kg=table.mass_kg,
        centre_ahead_of_rear_m=table.centre_ahead_of_rear_m,
        centre_height_m=table.centre_height_m,
        carried_share=share,
        drag_coefficient=table.drag_coefficient or 0.0,
        pull_height_m=pull_height if share < 1 else 0.0,
    )


def _implausible(table: dict[str, Any], where: str, prefix: str = "") -> list[Issue]:
    """Figures far outside what a machine can have, with the unit slip that would explain them."""
    issues = []
    for key, value in table.items():
        if isinstance(value, dict):
            issues += _implausible(value, where, f"{prefix}{key}.")
            continue
        if prefix.endswith("tyre.") and key == "width_m":
            low, high = PLAUSIBLE["tyre.width_m"]
        elif key in PLAUSIBLE:
            low, high = PLAUSIBLE[key]
        else:
            continue
        # what is no number, or not positive, is already an error of the strict table
        if isinstance(value, bool) or not isinstance(value, int | float) or value <= 0:
            continue
        if not low <= value <= high:
            slip = slip_advice(key, value, low, high)
            what = f"{prefix}{key} is {value:g}; a forest machine has {low:g} to {high:g}."
            issues.append(
                Issue(
                    "MCH01",
                    "error",
                    what,
                    f"{where}, {prefix}{key}",
                    slip or "Check the figure and its unit; the unit stands in the key's name.",
                )
            )
    return issues


def _group_issues(group: GroupTable, where: str) -> list[Issue]:
    issues = []
    expected = 4 if group.kind == "bogie" else 2
    if group.wheels is not None and group.wheels != expected:
        what = f"A {group.kind} has {expected} wheels on both sides, not {group.wheels}."
        fix = f"Write wheels = {expected}, or correct kind."
        issues.append(Issue("MCH03", "error", what, f"{where}.wheels", fix))
    if group.kind == "bogie" and group.bogie_spacing_m is None:
        what = "A bogie needs bogie_spacing_m."
        fix = "Give the distance between its two wheel centres in metres."
        issues.append(Issue("MCH03", "error", what, f"{where}.bogie_spacing_m", fix))
    if group.kind == "single" and group.bogie_spacing_m is not None:
        what = "A single axle has no bogie_spacing_m."
        fix = 'Remove it, or write kind = "bogie".'
        issues.append(Issue("MCH03", "error", what, f"{where}.bogie_spacing_m", fix))
    return issues


def _mass_issues(file: MachineFile, where: str) -> list[Issue]:
    """Split of the unladen mass, and ratings against what stands on them."""
    issues = []
    total, front = file.machine.unladen_mass_kg, file.machine.unladen_front_kg
    rear = file.machine.unladen_rear_kg
    rear_kg = total - front if rear is None else rear
    if front >= total:
        what = f"unladen_front_kg is {front:g}, not less than unladen_mass_kg {total:g}."
        fix = "The front carries only a part of the unladen mass."
        return [Issue("MCH02", "error", what, f"{where}, machine.unladen_front_kg", fix)]
    difference = front + rear_kg - total
    if abs(difference) > MASS_TOLERANCE * total:
        what = (
            f"Front {front:g} kg and rear {rear_kg:g} kg make {front + rear_kg:g} kg, "
            f"{abs(difference):g} kg {'more' if difference > 0 else 'less'} than "
            f"unladen_mass_kg {total:g}."
        )
        fix = f"They must agree within {MASS_TOLERANCE:.1%}; weigh again or drop unladen_rear_kg."
        issues.append(Issue("MCH02", "error", what, f"{where}, machine.unladen_rear_kg", fix))
    laden_front, laden_rear = front, total - front
    carried = 0.0
    if file.load:
        load = _load(file.load)
        carried = load.mass_kg * load.carried_share
        # a dragged load pulls the rear down and the front up, on level ground too
        drag = load.mass_kg * (1 - load.carried_share) * load.drag_coefficient * load.pull_height_m
        to_front = (carried * load.centre_ahead_of_rear_m - drag) / file.machine.wheelbase_m
        laden_front, laden_rear = front + to_front, total - front + carried - to_front
    rated = file.machine.rated_gross_mass_kg
    issues += _rating("rated_gross_mass_kg", rated, total, total + carried, f"{where}, machine")
    for name, group, unladen, laden in (
        ("front", file.front, front, laden_front),
        ("rear", file.rear, total - front, laden_rear),
    ):
        place = f"{where}, {name}"
        issues += _rating("rated_mass_kg", group.rated_mass_kg, unladen, laden, place)
        wheels = 4 if group.kind == "bogie" else 2
        rated = group.tyre.rated_load_kg
        issues += _rating(
            "rated_load_kg", rated, unladen / wheels, laden / wheels, f"{place}.tyre", " a wheel"
        )
    return issues


def _rating(
    key: str, rated: float | None, unladen: float, laden: float, where: str, each: str = ""
) -> list[Issue]:
    """Error below the unladen mass, warning below the fully laden one on level ground."""
    place = f"{where}.{key}"
    if rated is None:
        return []
    if rated < unladen:
        what = f"{key} is {rated:g}, below the unladen {unladen:.0f} kg{each} it must carry."
        fix = "One of the two figures is wrong: check the rating plate and the weighing."
        return [Issue("MCH07", "error", what, place, fix)]
    if rated < laden:
        what = f"With the full load {laden:.0f} kg{each} stand on it, {key} is {rated:g}."
        fix = "The payload must be cut, or the figures checked; every aid takes more of it."
        return [Issue("MCH07", "warning", what, place, fix)]
    return []


def _unrated_issues(file: MachineFile, where: str) -> list[Issue]:
    """One warning that names every rating the file does not state."""
    ratings = {
        "machine.rated_gross_mass_kg": file.machine.rated_gross_mass_kg,
        "front.rated_mass_kg": file.front.rated_mass_kg,
        "front.tyre.rated_load_kg": file.front.tyre.rated_load_kg,
        "rear.rated_mass_kg": file.rear.rated_mass_kg,
        "rear.tyre.rated_load_kg": file.rear.tyre.rated_load_kg,
    }
    missing = [key for key, value in ratings.items() if value is None]
    if not missing:
        return []
    what = f"No rating is given for {', '.join(missing)}: nothing is held against it, so neither "
    what += "the payload nor a place is known to be within it."
    fix = "Enter it from the rating plate or the tyre's load table; else ask the manufacturer."
    return [Issue("MCH12", "warning", what, f"{where}, {missing[0]}", fix)]


def _load_issues(file: MachineFile, where: str) -> list[Issue]:
    kind, load = file.machine.kind, file.load
    place = f"{where}, load"
    if kind in ("harvester", "feller-buncher"):
        if load is None:
            return []
        what = f"A {kind} carries no timber to the landing but the file has a [load]."
        return [Issue("MCH08", "error", what, place, "Remove [load], or correct kind.")]
    if load is None:
        what = f"A {kind} needs a [load]."
        fix = "Give mass_kg, centre_ahead_of_rear_m and centre_height_m of the full load."
        return [Issue("MCH08", "error", what, place, fix)]
    issues = []
    if kind == "skidder":
        for key in ("carried_share", "drag_coefficient"):
            if getattr(load, key) is None:
                what = f"A skidder needs load.{key}."
                fix = "A dragged load rests partly on the machine; the rest drags on the ground."
                issues.append(Issue("MCH08", "error", what, f"{place}.{key}", fix))
    share = 1.0 if load.carried_share is None else load.carried_share
    if kind == "forwarder" and share < 1:
        what = f"carried_share is {share:g}, but a forwarder carries its whole load."
        issues.append(
            Issue("MCH08", "error", what, f"{place}.carried_share", "Write 1.0 or leave it out.")
        )
    if share == 1 and load.drag_coefficient:
        what = "drag_coefficient is given, but nothing drags when the whole load is carried."
        fix = "Remove it, or give the carried_share of a dragged load."
        issues.append(Issue("MCH08", "error", what, f"{place}.drag_coefficient", fix))
    if kind == "skidder" and share < 1 and load.pull_height_m is None:
        what = f"pull_height_m is not given; the load's height {load.centre_height_m:g} m is taken."
        fix = "Give the height at which the rope or grapple pulls."
        issues.append(Issue("MCH12", "note", what, f"{place}.pull_height_m", fix))
    return issues + _load_centre_issues(file, load, share, place)


def _load_centre_issues(
    file: MachineFile, load: LoadTable, share: float, place: str
) -> list[Issue]:
    """Centre between the axles or a little behind, and the front axle still on the ground."""
    base, centre = file.machine.wheelbase_m, load.centre_ahead_of_rear_m
    place = f"{place}.centre_ahead_of_rear_m"
    if not -base <= centre <= base:
        what = f"The load bears {centre:g} m ahead of the rear, the wheelbase is {base:g} m."
        fix = "Metres ahead of the rear axle or bogie centre; negative behind it."
        return [Issue("MCH09", "error", what, place, fix)]
    pull = load.mass_kg * (1 - share) * (load.drag_coefficient or 0.0)
    height = load.centre_height_m if load.pull_height_m is None else load.pull_height_m
    moment = load.mass_kg * share * centre - pull * height
    if file.machine.unladen_front_kg + moment / base <= 0:
        what = "The full load would lift the front axle off level ground."
        fix = "Check mass_kg, carried_share and centre_ahead_of_rear_m of the load."
        return [Issue("MCH09", "error", what, place, fix)]
    return []


def _driven_issues(file: MachineFile, where: str) -> list[Issue]:
    if file.front.driven or file.rear.driven:
        return []
    what = "Neither the front nor the rear is driven."
    return [Issue("MCH11", "error", what, f"{where}, front.driven", "Write driven = true.")]


def _crane_issues(file: MachineFile, where: str) -> list[Issue]:
    """Masses and places of a crane that cannot be those of this machine."""
    crane, machine, issues = file.crane, file.machine, []
    if crane is None:
        return []

    def wrong(key: str, what: str, fix: str, severity: Severity = "error") -> None:
        issues.append(Issue("MCH15", severity, what, f"{where}, crane.{key}", fix))

    if crane.boom_mass_kg >= machine.unladen_mass_kg / 2:
        what = f"The booms weigh {crane.boom_mass_kg:g} kg of {machine.unladen_mass_kg:g} kg."
        fix = "boom_mass_kg is a part of unladen_mass_kg, less than half of it."
        wrong("boom_mass_kg", what, fix)
    if crane.boom_reach_m > crane.reach_m:
        what = f"boom_reach_m {crane.boom_reach_m:g} is beyond the reach of {crane.reach_m:g} m."
        wrong("boom_reach_m", what, "The centre of the booms lies between the axis and the tip.")
    if file.load and crane.lifted_mass_kg > file.load.mass_kg:
        what = f"The crane lifts {crane.lifted_mass_kg:g} kg, more than the full load of "
        what += f"{file.load.mass_kg:g} kg."
        wrong("lifted_mass_kg", what, "Give what the crane chart allows at this reach.")
    base = machine.wheelbase_m
    for key in ("column_ahead_of_rear_m", "boom_stowed_ahead_of_rear_m"):
        place = getattr(crane, key)
        if not -base <= place <= 2 * base:
            what = f"{key} is {place:g}, the wheelbase is {base:g} m."
            fix = f"Metres ahead of the rear axle or bogie centre, {-base:g} to {2 * base:g}."
            wrong(key, what, fix)
    stowed = crane.boom_stowed_ahead_of_rear_m
    away = abs(stowed - crane.column_ahead_of_rear_m)
    if away > crane.boom_reach_m:
        severity: Severity = "error" if away > crane.reach_m else "warning"
        what = f"Stowed, the centre of the booms lies {away:g} m from the axis, out only "
        what += f"{crane.boom_reach_m:g} m."
        fix = "Check boom_stowed_ahead_of_rear_m, column_ahead_of_rear_m and boom_reach_m."
        wrong("boom_stowed_ahead_of_rear_m", what, fix, severity)
    rest = machine.unladen_mass_kg - crane.boom_mass_kg
    if rest > 0:
        moment = machine.unladen_mass_kg * machine.cg_height_m
        height = (moment - crane.boom_mass_kg * crane.boom_stowed_height_m) / rest
        ahead = (machine.unladen_front_kg * base - crane.boom_mass_kg * stowed) / rest
        if height < PLAUSIBLE["cg_height_m"][0]:
            what = f"Without its booms the machine would have its centre {height:.2f} m high."
            fix = "Check boom_mass_kg, boom_stowed_height_m and cg_height_m of the machine."
            wrong("boom_stowed_height_m", what, fix)
        if machine.unladen_front_kg < machine.unladen_mass_kg and not 0 <= ahead <= base:
            what = f"Without its booms the machine would have its centre {ahead:.2f} m ahead of "
            what += "the rear, not between its axles."
            fix = "Check boom_mass_kg, boom_stowed_ahead_of_rear_m and unladen_front_kg."
            wrong("boom_stowed_ahead_of_rear_m", what, fix)
    return issues


def _size_issues(machine: Machine, where: str) -> list[Issue]:
    """Wheels that would overlap, and tyres wider than the machine."""
    issues = []
    reach = 0.0
    for group in machine.groups:
        spacing, diameter = group.bogie_spacing_m or 0.0, group.tyre.diameter_m
        reach += spacing / 2 + diameter / 2
        if group.kind == "bogie" and spacing <= diameter:
            what = f"Wheels {diameter:.3f} m high overlap in a bogie spaced {spacing:g} m."
            fix = "bogie_spacing_m must be more than the tyre diameter."
            issues.append(
                Issue("MCH10", "error", what, f"{where}, {group.name}.bogie_spacing_m", fix)
            )
        over_tyres = machine.track_gauge_m + group.tyre.width_m
        if over_tyres > machine.width_m * 1.02:
            what = f"Over its {group.name} tyres the machine is {over_tyres:.2f} m wide, "
            what += f"width_m says {machine.width_m:g}."
            fix = (
                "track_gauge_m runs from tyre centre to tyre centre; width_m is the overall width."
            )
            issues.append(Issue("MCH10", "warning", what, f"{where}, machine.width_m", fix))
    if machine.wheelbase_m <= reach:
        what = f"A wheelbase of {machine.wheelbase_m:g} m leaves no room for wheels that need "
        what += f"{reach:.2f} m."
        fix = "wheelbase_m runs from front to rear axle or bogie centre."
        issues.append(Issue("MCH10", "error", what, f"{where}, machine.wheelbase_m", fix))
    if machine.max_tractive_effort_kn is None:
        what = "max_tractive_effort_kn is not given, so no cap of the driveline is applied."
        fix = "Enter the manufacturer's figure."
        place = f"{where}, machine.max_tractive_effort_kn"
        issues.append(Issue("MCH12", "warning", what, place, fix))
    return issues
