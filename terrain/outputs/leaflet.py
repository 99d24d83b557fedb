"""Turn a Folium figure into one file that opens without a network and runs no foreign script.

Leaflet's script and style sheet come from the XStatic-Leaflet distribution and are written into
the page. A content security policy then allows exactly the scripts that are in the page, by their
SHA-256, and images that are in it; nothing can be fetched and no handler in an attribute can run.
"""

from __future__ import annotations

import base64
import hashlib
import json
import re
from collections.abc import Iterator
from importlib import resources
from typing import Any

from branca.element import Element, Figure

__all__ = [
    "LEAFLET_SCRIPT",
    "LEAFLET_STYLE",
    "leaflet_style",
    "leaflet_text",
    "one_file",
    "script_json",
]

LEAFLET_SCRIPT = "rutwise-inline-leaflet.js"
LEAFLET_STYLE = "rutwise-inline-leaflet.css"
"""Placeholders that a map names as its only assets; :func:`one_file` replaces them."""

_NOTICE = """<!--
This page contains Leaflet. Its copyright holders are named at the head of its script below.
All rights reserved. Redistribution and use in source and binary forms, with or without
modification, are permitted provided that the following conditions are met:
1. Redistributions of source code must retain the above copyright notice, this list of conditions
and the following disclaimer.
2. Redistributions in binary form must reproduce the above copyright notice, this list of conditions
and the following disclaimer in the documentation and/or other materials provided with the
distribution.
THIS SOFTWARE IS PROVIDED BY THE COPYRIGHT HOLDERS AND CONTRIBUTORS "AS IS" AND ANY EXPRESS OR
IMPLIED WARRANTIES, INCLUDING, BUT NOT LIMITED TO, THE IMPLIED WARRANTIES OF MERCHANTABILITY AND
FITNESS FOR A PARTICULAR PURPOSE ARE DISCLAIMED. IN NO EVENT SHALL THE COPYRIGHT HOLDER OR
CONTRIBUTORS BE LIABLE FOR ANY DIRECT, INDIRECT, INCIDENTAL, SPECIAL, EXEMPLARY, OR CONSEQUENTIAL
DAMAGES (INCLUDING, BUT NOT LIMITED TO, PROCUREMENT OF SUBSTITUTE GOODS OR SERVICES; LOSS OF USE,
DATA, OR PROFITS; OR BUSINESS INTERRUPTION) HOWEVER CAUSED AND ON ANY THEORY OF LIABILITY, WHETHER
IN CONTRACT, STRICT LIABILITY, OR TORT (INCLUDING NEGLIGENCE OR OTHERWISE) ARISING IN ANY WAY OUT OF
THE USE OF THIS SOFTWARE, EVEN IF ADVISED OF THE POSSIBILITY OF SUCH DAMAGE.
-->"""

_SCRIPT = re.compile(r"<script>(.*?)</script>", re.DOTALL)


def _asset(name: str) -> bytes:
    return resources.files("xstatic.pkg.leaflet").joinpath("data", *name.split("/")).read_bytes()


def leaflet_text() -> str:
    """Return Leaflet's script without the pointer to its source map."""
    text = _asset("leaflet.js").decode("utf-8")
    return re.sub(r"\n//# sourceMappingURL=\S+\s*$", "\n", text)


def leaflet_style() -> str:
    """Return Leaflet's style sheet with its pictures as data URIs and without comments."""

    def inlined(match: re.Match[str]) -> str:
        picture = base64.b64encode(_asset(match.group(1))).decode("ascii")
        return f"url(data:image/png;base64,{picture})"

    text = re.sub(r"/\*.*?\*/", "", _asset("leaflet.css").decode("utf-8"), flags=re.DOTALL)
    return re.sub(r"url\((images/[\w.-]+\.png)\)", inlined, text)


def script_json(value: Any) -> str:
    """Return ``value`` as JSON that stays data inside a script element, whatever its texts hold."""
    text = json.dumps(value, ensure_ascii=False, separators=(",", ":"), allow_nan=False)
    for risky in "<>&\u2028\u2029":
        text = text.replace(risky, f"\\u{ord(risky):04x}")
    return text


def one_file(figure: Figure, images_from: str = "") -> str:
    """Render ``figure`` as one page: assets inlined, ids renumbered, policy set.

    ``images_from`` is the one origin (such as ``https://tiles.example.org``) that pictures may be
    asked from; empty for none.

    Raises
    ------
    ValueError
        If the page does not name Leaflet's placeholders, or would still load from outside.
    """
    page = figure.render()
    page = "\n".join(line.rstrip() for line in page.splitlines() if line.strip()) + "\n"
    for number, identifier in enumerate(dict.fromkeys(_identifiers(figure))):
        page = page.replace(identifier, f"n{number}")
    for placeholder, asset in (
        (f'<script src="{LEAFLET_SCRIPT}"></script>', f"<script>{leaflet_text()}</script>"),
        (f'<link rel="stylesheet" href="{LEAFLET_STYLE}"/>', f"<style>{leaflet_style()}</style>"),
    ):
        if page.count(placeholder) != 1:
            raise ValueError(f"the page should name Leaflet once: {placeholder}")
        page = page.replace(placeholder, asset)
    page = page.replace("maximum-scale=1.0, user-scalable=no", "viewport-fit=cover")
    if re.search(r"<(?:script|link|iframe|object|embed)\s[^>]*(?:src|href)\s*=", page):
        raise ValueError("the page would load a file from outside")
    hashes = " ".join(
        f"'sha256-{base64.b64encode(hashlib.sha256(body.encode()).digest()).decode()}'"
        for body in _SCRIPT.findall(page)
    )
    origin = f" {images_from}" if images_from else ""
    policy = (
        f"default-src 'none'; script-src {hashes}; style-src 'unsafe-inline'; "
        f"img-src data:{origin}; "
        "base-uri 'none'; form-action 'none'"
    )
    head = (
        '<head>\n<meta charset="utf-8">\n'
        f'<meta http-equiv="Content-Security-Policy" content="{policy}">'
    )
    page = page.replace("<html>", '<html lang="en">', 1).replace("<head>", head, 1)
    return page.replace('<html lang="en">', f'{_NOTICE}\n<html lang="en">', 1)


def _identifiers(element: Element) -> Iterator[str]:
    yield element._id
    for child in element._children.values():
        yield from _identifiers(child)
