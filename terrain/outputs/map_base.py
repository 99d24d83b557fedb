"""The address of an online base map: which ones the map accepts, and what they open."""

from __future__ import annotations

import re

__all__ = ["ADDRESS_WANTED", "base_map_origin"]

ADDRESS_WANTED = (
    "A base map is an https address with {z}, {x} and {y} in it, such as "
    "https://maps.example.org/{z}/{x}/{y}.png, without blanks or quotes."
)
"""What a base map's address has to look like."""

_ADDRESS = re.compile(
    r"(?P<origin>https://[a-z0-9](?:[a-z0-9.-]*[a-z0-9])?(?::\d{1,5})?)"
    r"/(?:\{[xyzr]\}|[\w.~:/?@!$&()*+,;=%-])+",
    re.ASCII,
)


def base_map_origin(address: str | bool | None) -> str:
    """Return scheme and host of the tiles' ``address``: the one door that the map opens.

    Parameters
    ----------
    address : str, False or None
        False and None: no base map; the answer is empty.

    Raises
    ------
    ValueError
        If ``address`` is no ``https`` address with ``{z}``, ``{x}`` and ``{y}``, names another
        part in braces (but ``{r}``, finer pictures on fine screens), or holds a character that an
        address has no use for.
    """
    if address is None or address is False:
        return ""
    found = _ADDRESS.fullmatch(address) if isinstance(address, str) else None
    if found is None or not all(part in found.group() for part in ("{z}", "{x}", "{y}")):
        raise ValueError(ADDRESS_WANTED)
    return found["origin"]
