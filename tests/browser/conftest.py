"""Headless Chromium with the network off."""

from __future__ import annotations

import io
import json
import os
import shutil
import tempfile
from collections.abc import Iterator
from importlib.util import find_spec
from pathlib import Path
from typing import Any

import pytest

from terrain.outputs.folder import write_outputs
from terrain.outputs.shown_units import US
from terrain.outputs.web_map import map_html
from tests.outputs.map_plan import with_water
from tests.outputs.synthetic import HOSTILE, make_plan, with_decision

FLAGS = (
    "--headless=new",
    "--no-sandbox",
    "--disable-gpu",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--host-resolver-rules=MAP * ~NOTFOUND",
)


def _missing() -> str:
    for tool in ("chromium", "chromedriver"):
        if shutil.which(tool) is None:
            return f"{tool} is not installed (apt-get install chromium chromium-driver)"
    try:
        import selenium  # noqa: F401
    except ImportError:
        return "selenium is not installed (pip install -e '.[dev]')"
    return ""


@pytest.fixture(scope="session")
def browser() -> Iterator[Any]:
    """A browser; skipped without one, unless RUTWISE_NEED_BROWSER=1 makes that a failure."""
    reason = _missing()
    if reason and os.environ.get("RUTWISE_NEED_BROWSER") == "1":
        pytest.fail(reason)
    if reason:
        pytest.skip(reason)
    from selenium import webdriver
    from selenium.webdriver.chrome.service import Service

    profile = tempfile.mkdtemp(prefix="rutwise-browser-")
    options = webdriver.ChromeOptions()
    options.binary_location = str(shutil.which("chromium"))
    for flag in (*FLAGS, f"--user-data-dir={profile}"):
        options.add_argument(flag)
    options.set_capability("goog:loggingPrefs", {"browser": "ALL", "performance": "ALL"})
    driver = webdriver.Chrome(
        options=options, service=Service(executable_path=shutil.which("chromedriver"))
    )
    yield driver
    driver.quit()
    shutil.rmtree(profile, ignore_errors=True)


class Page:
    """A page that has been opened at a given size, and what the browser said meanwhile."""

    def __init__(self, driver: Any, path: Path, width: int, height: int) -> None:
        self.driver = driver
        driver.execute_cdp_cmd(
            "Emulation.setDeviceMetricsOverride",
            {"width": width, "height": height, "deviceScaleFactor": 1, "mobile": width < 600},
        )
        driver.get_log("browser")
        driver.get_log("performance")
        driver.get(path.as_uri())

    def count(self, selector: str) -> int:
        return len(self.driver.find_elements("css selector", selector))

    def run(self, script: str) -> Any:
        return self.driver.execute_script(script)

    def wait(self, script: str) -> None:
        from selenium.webdriver.support.ui import WebDriverWait

        WebDriverWait(self.driver, 10).until(lambda _: self.run(f"return Boolean({script})"))

    def pixels(self) -> Any:
        """The page as it looks, an array of shape (height, width, 3)."""
        import numpy as np
        from PIL import Image

        # wait until two frames were drawn after the last change
        self.driver.execute_async_script(
            "var done = arguments[0]; requestAnimationFrame(() => requestAnimationFrame(() =>"
            " setTimeout(done, 60)))"
        )
        picture = Image.open(io.BytesIO(self.driver.get_screenshot_as_png()))
        return np.asarray(picture.convert("RGB")).astype(int)

    def choose(self, name: str, value: str | int) -> None:
        """Choose ``value`` in the panel's select ``name`` as a person does."""
        self.driver.execute_script(
            "var s = document.getElementById('rw-' + arguments[0]); s.value = arguments[1];"
            "s.dispatchEvent(new Event('change', {bubbles: true}));",
            name,
            str(value),
        )

    def text(self, selector: str) -> str:
        return self.run(f"return document.querySelector({json.dumps(selector)}).textContent")

    def serious_faults(self) -> list[tuple[str, str, str]]:
        """Serious faults that axe-core finds, as the axe-playwright-python distribution carries it.

        Only its script is used; skipped without it, unless RUTWISE_NEED_BROWSER=1.
        """
        spec = find_spec("axe_playwright_python")
        if spec is None or spec.origin is None:
            reason = "axe-playwright-python is not installed (pip install --no-deps)"
            if os.environ.get("RUTWISE_NEED_BROWSER") == "1":
                pytest.fail(reason)
            pytest.skip(reason)
        script = Path(spec.origin).with_name("axe.min.js").read_text(encoding="utf-8")
        self.driver.execute_script(script)
        found = self.driver.execute_async_script(
            "var done = arguments[0];axe.run(document, {resultTypes: ['violations']}).then(done)"
        )
        assert len(found["passes"]) > 25
        return [
            (fault["impact"], fault["id"], fault["nodes"][0]["html"][:120])
            for fault in found["violations"]
            if fault["impact"] in ("serious", "critical")
        ]

    def console(self) -> list[str]:
        return [entry["message"] for entry in self.driver.get_log("browser")]

    def outside_requests(self) -> list[str]:
        """Addresses asked for that are neither this page nor data inside it."""
        addresses = []
        for entry in self.driver.get_log("performance"):
            message = json.loads(entry["message"])["message"]
            if message["method"] == "Network.requestWillBeSent":
                addresses.append(message["params"]["request"]["url"])
        return [
            address
            for address in addresses
            if not address.startswith("data:") and address != self.driver.current_url
        ]


@pytest.fixture(scope="session")
def written(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("plain") / "out"
    write_outputs(with_decision(make_plan()), folder)
    return folder


@pytest.fixture(scope="session")
def written_hostile(tmp_path_factory: pytest.TempPathFactory) -> Path:
    script, image, quotes, long, right_to_left, emoji, _ = HOSTILE
    folder = tmp_path_factory.mktemp("hostile") / "out"
    names = (f"{script}{quotes}", image, long)
    plan = with_decision(make_plan(names, f"{emoji} {right_to_left} {script}"))
    write_outputs(plan, folder)
    return folder


@pytest.fixture(scope="session")
def water_map(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The map of a plan with water and crossings, and no answer for frozen ground."""
    path = tmp_path_factory.mktemp("water") / "map.html"
    path.write_text(map_html(with_water()), encoding="utf-8")
    return path


@pytest.fixture(scope="session")
def us_map(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The same map in US units."""
    path = tmp_path_factory.mktemp("us") / "map.html"
    path.write_text(map_html(with_water(), shown=US), encoding="utf-8")
    return path
