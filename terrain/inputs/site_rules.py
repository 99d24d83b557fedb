"""Find the rule profile that a block file names: a shipped one, or one of an own file."""

from __future__ import annotations

from difflib import get_close_matches
from pathlib import Path

from terrain.errors import Issue
from terrain.inputs.loaded import InputFile
from terrain.inputs.toml_files import check_table, read_toml
from terrain.inputs.traffic_tables import ProfileFile
from terrain.models.site_rules import RuleProfile, profile_from, rule_profiles

__all__ = ["ISSUE_CODES", "read_profile"]

ISSUE_CODES = {"RUL01": "no rule profile has this name"}
"""Issue codes of this module and what they stand for."""


def read_profile(
    key: str, path: Path | None = None, name: str = "", *, where: str = "block file"
) -> tuple[RuleProfile | None, InputFile | None, list[Issue]]:
    """Return the profile ``key``.

    Parameters
    ----------
    key : str
        Key of the profile.
    path, name : Path or None, str
        Own profile file, and its name as written; None: the shipped profiles.
    where : str
        Place of the key, for messages.

    Returns
    -------
    RuleProfile or None
        None when there is an error. An own profile has the status ``planning assumption`` because
        nobody here has read its source.
    InputFile or None
        The own file.
    list of Issue
    """
    if path is None:
        known, file = rule_profiles(), None
    else:
        toml, issues = read_toml(path, "profile file")
        if toml is None:
            return None, None, issues
        checked, issues = check_table(ProfileFile, toml.table, name or path.name)
        if checked is None:
            return None, None, issues
        known = {row.key: profile_from(row.model_dump()) for row in checked.profile}
        file = InputFile("rule profile", name or path.name, toml.sha256, f"{len(known)} profiles")
    if key in known:
        return known[key], file, []
    near = get_close_matches(key, list(known), 1)
    hint = f"Did you mean {near[0]}? " if near else ""
    what = f"There is no rule profile {key!r}."
    fix = f"{hint}Known: {', '.join(known)}. 'rutwise rules' shows what each says."
    return None, file, [Issue("RUL01", "error", what, f"{where}, site_rules.profile", fix)]
