"""Read a hand-written TOML file and say everything that is wrong with it at once."""

from __future__ import annotations

import hashlib
import re
import tomllib
import types
from dataclasses import dataclass
from difflib import get_close_matches
from pathlib import Path
from typing import Annotated, Any, TypeVar, Union, get_args, get_origin

from pydantic import BaseModel, ConfigDict, ValidationError

from terrain.errors import Issue
from terrain.inputs.file_kinds import told_by_content
from terrain.inputs.unit_slips import bare_number_advice

__all__ = [
    "ISSUE_CODES",
    "StrictTable",
    "TomlFile",
    "check_table",
    "read_toml",
    "without_unknown_keys",
]

ISSUE_CODES = {
    "TOML01": "the file is missing or cannot be read",
    "TOML02": "the path is no regular file",
    "TOML03": "the file is not valid TOML",
    "TOML04": "a key is not known",
    "TOML05": "a required key is missing",
    "TOML06": "a value is of the wrong kind",
    "TOML07": "a value is outside the allowed range",
    "TOML08": "a word is not one of the allowed words",
    "TOML09": "the file is of another kind than is asked for",
}
"""Issue codes of this module and what they stand for."""

MAX_BYTES = 5_000_000
"""A hand-written file is never larger; anything beyond is not read."""

_RANGE_ERRORS = {
    "greater_than": ("gt", "more than"),
    "greater_than_equal": ("ge", "at least"),
    "less_than": ("lt", "less than"),
    "less_than_equal": ("le", "at most"),
}
_KINDS = {
    "float_type": "a bare number",
    "int_type": "a whole number",
    "int_from_float": "a whole number",
    "bool_type": "true or false",
    "string_type": "a text in quotes",
    "list_type": "a list in square brackets",
    "model_type": "a table of keys",
    "model_attributes_type": "a table of keys",
    "dict_type": "a table of keys",
    "finite_number": "a finite number",
}
_SIZES = {
    "string_too_short": "is empty",
    "too_short": "is an empty list",
    "string_too_long": "is too long",
    "string_pattern_mismatch": "is not allowed",
}


class StrictTable(BaseModel):
    """Base of every table model: no unknown keys, no silent conversion, no NaN or infinity."""

    model_config = ConfigDict(extra="forbid", strict=True, allow_inf_nan=False, frozen=True)


Table = TypeVar("Table", bound=StrictTable)


@dataclass(frozen=True, slots=True)
class TomlFile:
    """A parsed file: its ``path``, its ``table`` and the ``sha256`` of the very bytes read."""

    path: Path
    table: dict[str, Any]
    sha256: str


def read_toml(path: str | Path, role: str = "TOML file") -> tuple[TomlFile | None, list[Issue]]:
    """Read and parse the file at ``path``.

    Parameters
    ----------
    path : str or Path
    role : str
        What the file is for, used in messages, for example ``machine file``.

    Returns
    -------
    TomlFile or None
        None when there is an issue.
    list of Issue
        At most one issue: missing, no regular file, too large, not UTF-8, a syntax error with its
        line, or a file of another kind than ``role`` says.
    """
    path = Path(path)
    where = str(path)

    def refused(code: str, what: str, fix: str) -> tuple[None, list[Issue]]:
        return None, [Issue(code, "error", what, where, fix)]

    try:
        if not path.exists():
            return refused("TOML01", f"The {role} does not exist.", _path_advice(path))
        if not path.is_file():
            return refused(
                "TOML02", f"The {role} is a folder or a device.", "Name the .toml file itself."
            )
        if path.stat().st_size > MAX_BYTES:
            return refused(
                "TOML02",
                f"The {role} is larger than {MAX_BYTES} bytes.",
                "A hand-written file is far smaller: check that the right file is named.",
            )
        raw = path.read_bytes()
    except OSError as error:
        return refused(
            "TOML01",
            f"The {role} cannot be read ({error.strerror or error}).",
            "Check the name and the permission to read it.",
        )
    try:
        table = tomllib.loads(raw.decode("utf-8-sig"))
    except UnicodeDecodeError as error:
        line = raw[: error.start].count(b"\n") + 1
        return refused("TOML03", f"Line {line} is not UTF-8 text.", "Save the file as UTF-8.")
    except (tomllib.TOMLDecodeError, RecursionError) as error:
        return refused("TOML03", *_syntax_words(str(error)))
    kind = told_by_content(table, role)
    if kind is not None:
        article = "an" if role[0] in "aeiou" else "a"
        what = f"This is {kind.called}; {article} {role} is asked for."
        return refused("TOML09", what, kind.advice)
    return TomlFile(path, table, hashlib.sha256(raw).hexdigest()), []


def _syntax_words(error: str) -> tuple[str, str]:
    """What is wrong with the text of a file, and how to mend it."""
    again = re.match(r"Cannot declare \((.+?),?\) twice \((.+)\)", error)
    if again:
        part = ".".join(re.findall(r"'([^']*)'", again[1]))
        what = f"The part [{part}] stands in the file a second time ({again[2]})."
        return what, "Put all its keys under one [part]; each [part] may stand only once."
    fix = (
        'A line is key = value; texts stand in "quotes", numbers carry no unit and use a point; '
        "each [part] stands only once, and each key only once in its [part]."
    )
    return f"Not valid TOML: {error}.", fix


def check_table(
    model: type[Table], table: dict[str, Any], where: str
) -> tuple[Table | None, list[Issue]]:
    """Check a parsed table against ``model`` and list every fault.

    Parameters
    ----------
    model : type of StrictTable
    table : dict
        As :mod:`tomllib` gives it.
    where : str
        File name for the messages; the key path is added to it.

    Returns
    -------
    StrictTable or None
        None when there is any fault.
    list of Issue
        One error per fault, in the order of the model.
    """
    try:
        return model.model_validate(table), []
    except ValidationError as error:
        return None, [_issue(model, table, where, fault) for fault in error.errors()]


def without_unknown_keys(model: type[BaseModel], table: dict[str, Any]) -> dict[str, Any]:
    """Copy of ``table`` with only the keys that ``model`` knows, at every depth.

    Lets a caller go on with its further checks when unknown keys were the only fault, so that
    one reading of the file still lists everything.
    """
    kept: dict[str, Any] = {}
    for key, info in model.model_fields.items():
        if key not in table:
            continue
        value, inner = table[key], _model_in(info.annotation)
        if inner and isinstance(value, dict):
            value = without_unknown_keys(inner, value)
        elif inner and isinstance(value, list):
            value = [without_unknown_keys(inner, v) if isinstance(v, dict) else v for v in value]
        kept[key] = value
    return kept


def _issue(model: type[BaseModel], table: dict[str, Any], where: str, fault: Any) -> Issue:
    """One pydantic fault in words."""
    location = tuple(fault["loc"])
    # pydantic puts the branch of a union behind the key (for example "str"): keep real keys only
    location = _real_location(table, location, keep_last=fault["type"] == "missing")
    place = f"{where}, {_dotted(location)}" if location else where
    kind, value = fault["type"], fault.get("input")
    named = max((n for n, part in enumerate(location) if isinstance(part, str)), default=0)
    key = _dotted(location[named:])  # an entry of a list is told with its key: shares[2]
    parent = _model_at(model, location[:named])
    meaning = _meaning(parent, str(location[named]) if location else "")
    if kind == "extra_forbidden":
        return Issue(
            "TOML04",
            "error",
            f"The key {_dotted(location)} is not known.",
            place,
            _key_advice(model, parent, location),
        )
    if kind == "missing":
        what = f"The key {_dotted(location)} is missing."
        return Issue("TOML05", "error", what, place, f"Add it{meaning}.")
    if kind == "literal_error":
        known = re.findall(r"'([^']*)'", str(fault["ctx"]["expected"]))
        near = get_close_matches(str(value), known, 1)
        near = near or [word for word in known if word.startswith(str(value)[:4].lower())]
        hint = f'Did you mean "{near[0]}"? ' if near and len(str(value)) > 2 else ""
        allowed = ", ".join(f'"{word}"' for word in known)
        what = f"{key} is {_shown(value)}."
        return Issue("TOML08", "error", what, place, f"{hint}Allowed: {allowed}.")
    if kind in _RANGE_ERRORS:
        bound, words = _RANGE_ERRORS[kind]
        return Issue(
            "TOML07",
            "error",
            f"{key} is {_shown(value)}, it must be {words} {fault['ctx'][bound]:g}.",
            place,
            f"Give {key} within its range{meaning}.",
        )
    if kind in _KINDS:
        advice = bare_number_advice(key, value) if kind in ("float_type", "int_type") else ""
        return Issue(
            "TOML06",
            "error",
            f"{key} is {_shown(value)}, it must be {_KINDS[kind]}.",
            place,
            advice or f"Write {_KINDS[kind]}{meaning}.",
        )
    if kind in _SIZES:
        shown = "" if "short" in kind else f"{_shown(value)}, which "
        what = f"{key} {'is ' + shown if shown else ''}{_SIZES[kind]}."
        return Issue("TOML07", "error", what, place, f"Correct {key}{meaning}.")
    what = str(fault["msg"]).removeprefix("Value error, ")
    return Issue("TOML07", "error", f"{key}: {what}.", place, f"Correct {key}{meaning}.")


def _shown(value: Any) -> str:
    """A value as it stands in the file, shortened."""
    if isinstance(value, str):
        value = f'"{value}"'
    elif isinstance(value, bool):
        value = str(value).lower()
    elif isinstance(value, dict):
        value = "a table"
    text = str(value)
    return text if len(text) <= 60 else text[:57] + "..."


def _dotted(location: tuple[Any, ...]) -> str:
    """Key path as ``front.tyre.width_m`` or ``aid[2].mass_kg`` (entries counted from 1)."""
    text = ""
    for part in location:
        text += f"[{part + 1}]" if isinstance(part, int) else f".{part}" if text else str(part)
    return text


def _real_location(table: Any, location: tuple[Any, ...], keep_last: bool) -> tuple[Any, ...]:
    """Drop the parts of a pydantic location that are no keys of the file."""
    kept: list[Any] = []
    here = table
    for position, part in enumerate(location):
        try:
            here = here[part]
        except (KeyError, IndexError, TypeError):
            if keep_last and position == len(location) - 1:
                kept.append(part)
            continue
        kept.append(part)
    return tuple(kept)


def _model_in(annotation: Any) -> type[BaseModel] | None:
    """The table model inside an annotation such as ``Model | None`` or ``list[Model]``."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    if get_origin(annotation) in (Union, types.UnionType, list, dict, tuple, Annotated):
        for inner in get_args(annotation):
            found = _model_in(inner)
            if found:
                return found
    return None


def _model_at(model: type[BaseModel], location: tuple[Any, ...]) -> type[BaseModel] | None:
    """The model that describes the table at ``location``."""
    here: type[BaseModel] | None = model
    for part in location:
        if isinstance(part, int) or here is None:
            continue
        info = here.model_fields.get(part)
        here = _model_in(info.annotation) if info else None
    return here


def _meaning(parent: type[BaseModel] | None, key: str) -> str:
    """Description of a key as ``: ...``, empty when the model gives none."""
    info = parent.model_fields.get(key) if parent else None
    return f": {info.description}" if info and info.description else ""


def _key_advice(
    model: type[BaseModel], parent: type[BaseModel] | None, location: tuple[Any, ...]
) -> str:
    """Nearest known key here, or the table where the key belongs, and all that is allowed."""
    key = str(location[-1])
    known = list(parent.model_fields) if parent else []
    near = get_close_matches(key, known, 1, 0.6)
    allowed = f"Allowed here: {', '.join(known)}."
    if near:
        return f"Did you mean {near[0]}? {allowed}"
    homes = [path for path in _homes(model, key) if path != _dotted(location)]
    if homes:
        return f"It belongs to {homes[0]}. {allowed}"
    return f"Remove it. {allowed}"


def _homes(model: type[BaseModel], key: str, prefix: str = "") -> list[str]:
    """Key paths anywhere in ``model`` that end with ``key``."""
    found = [f"{prefix}{key}"] if key in model.model_fields else []
    for name, info in model.model_fields.items():
        inner = _model_in(info.annotation)
        if inner:
            found += _homes(inner, key, f"{prefix}{name}.")
    return found


def _path_advice(path: Path) -> str:
    """Point to a file of nearly the same name beside it, when there is one."""
    folder = path.parent
    if not folder.is_dir():
        return f"There is no folder {folder}."
    near = get_close_matches(path.name, [item.name for item in folder.iterdir()], 1)
    return f"Did you mean {folder / near[0]}?" if near else "Check the name and the folder."
