"""Wording in other languages: gettext catalogues (``.po``) with English as their source.

A message is its English sentence. ``terrain/data/locale/brief.pot`` lists them all; one file for
each language gives the translations. Any editor for ``.po`` files can work on them; they are read
at run time, so nothing has to be compiled. A catalogue whose header says ``X-Review: unreviewed
draft`` makes every page say so.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache
from importlib import resources

__all__ = ["LANGUAGES", "Catalogue", "catalogue", "mark", "messages", "read_po"]

LANGUAGES: dict[str, str] = {
    "en": "English",
    "sv": "svenska",
    "fi": "suomi",
    "de": "Deutsch",
    "fr": "français",
}
"""Languages by code, each by its own name. English is the source."""

_REVIEW = "X-Review:"


def mark(message: str) -> str:
    """Return ``message`` as it is; marks it as one to translate where it is only listed."""
    return message


@dataclass(frozen=True, slots=True)
class Catalogue:
    """The words of one language.

    Attributes
    ----------
    language : str
        Code, for example ``sv``.
    translations : mapping
        English sentence to translation.
    draft : bool
        True while nobody who knows the trade in that language has read it.
    """

    language: str
    translations: Mapping[str, str] = field(default_factory=dict)
    draft: bool = False

    def say(self, message: str, **values: object) -> str:
        """Translate ``message`` and put ``values`` into its places ``{name}``.

        Values go in as they are and are never read as a pattern. A message without translation
        stays English.

        Raises
        ------
        KeyError
            ``message`` is not in ``brief.pot``: a slip of the program.
        """
        if message not in messages():
            raise KeyError(f"not a listed message: {message!r}")
        return (self.translations.get(message) or message).format(**values)

    def term(self, word: str) -> str:
        """Translate a word of the plan; one that the catalogue does not know stays as it is."""
        return self.translations.get(word) or word


@cache
def messages() -> tuple[str, ...]:
    """Every message, in the order of ``brief.pot``."""
    return tuple(read_po(_text("brief.pot"))[1])


@cache
def catalogue(language: str = "en") -> Catalogue:
    """The catalogue of ``language``.

    Raises
    ------
    ValueError
        No such language; the text names those that there are.
    """
    if language not in LANGUAGES:
        raise ValueError(f"no language {language!r}; there are: {', '.join(LANGUAGES)}")
    if language == "en":
        return Catalogue("en")
    header, translations = read_po(_text(f"{language}.po"))
    review = [line for line in header.splitlines() if line.startswith(_REVIEW)]
    draft = not review or "unreviewed" in review[0]
    return Catalogue(language, translations, draft)


def read_po(text: str) -> tuple[str, dict[str, str]]:
    """Read a catalogue of plain messages.

    Returns
    -------
    header : str
        Translation of the empty message: one ``Key: value`` a line.
    translations : dict
        English to translation, in order; empty where there is none or it is marked ``fuzzy``.

    Raises
    ------
    ValueError
        A line that is not understood (contexts and plurals are not used here), or a message twice.
    """
    entries: list[tuple[dict[str, str], bool]] = []
    word, fuzzy = "", False
    for number, raw in enumerate(text.splitlines(), start=1):
        line = raw.strip()
        if line.startswith("#,") and "fuzzy" in line:
            fuzzy = True
        elif not line or line.startswith("#"):
            continue
        elif line.startswith("msgid "):
            word, entry = "msgid", {"msgid": _quoted(line[6:], number)}
            entries.append((entry, fuzzy))
            fuzzy = False
        elif line.startswith("msgstr ") and word == "msgid":
            word = "msgstr"
            entries[-1][0][word] = _quoted(line[7:], number)
        elif line.startswith('"') and word:
            entries[-1][0][word] += _quoted(line, number)
        else:
            raise ValueError(f"line {number} of the catalogue is not understood: {raw[:60]!r}")
    found: dict[str, str] = {}
    for entry, unsure in entries:
        key, value = entry["msgid"], entry.get("msgstr", "")
        if key in found:
            raise ValueError(f"twice in the catalogue: {key!r}")
        found[key] = "" if unsure and key else value
    return found.pop("", ""), found


def _quoted(text: str, number: int) -> str:
    try:
        value = json.loads(text)
    except ValueError:
        value = None
    if not isinstance(value, str):
        raise ValueError(f"line {number} of the catalogue holds no quoted text: {text[:60]!r}")
    return value


def _text(name: str) -> str:
    return resources.files("terrain.data").joinpath("locale", name).read_text(encoding="utf-8")
