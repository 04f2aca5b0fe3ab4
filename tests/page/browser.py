"""A browser without a window, and what it says of a page: requests, errors, sizes, colours.

Chromium and its driver are Debian's (`chromium`, `chromium-driver`). Where they are missing the tests are skipped,
unless VENUE_BROWSER=required says that they must be there, as CI does.
"""

from __future__ import annotations

import base64
import json
import os
import shutil
import time
from pathlib import Path
from typing import Any, cast

import pytest

ROOT = Path(__file__).parents[2]
# The same file that npm installs anywhere; CI puts it here, out of the tree.
AXE = Path(os.environ.get("VENUE_AXE", ROOT / ".ci" / "node" / "node_modules" / "axe-core" / "axe.min.js"))
REQUIRED = os.environ.get("VENUE_BROWSER") == "required"
_PATIENCE = 20.0


def missing(what: str) -> None:
    """Skip, with the reason; or fail where everything must be there."""
    if REQUIRED:
        pytest.fail(f"VENUE_BROWSER=required, but {what}")
    pytest.skip(what)


class Browser:
    """Chromium, driven through its own protocol."""

    def __init__(self, downloads: Path) -> None:
        try:
            from selenium import webdriver
            from selenium.webdriver.chrome.service import Service
        except ImportError:
            missing("selenium is not installed")
        found = [shutil.which(name) for name in ("chromium", "chromedriver")]
        if None in found:
            missing("chromium and chromium-driver (Debian's packages) are not installed")
        options = webdriver.ChromeOptions()
        options.binary_location = cast(str, found[0])
        for word in ("--headless=new", "--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage", "--hide-scrollbars",
                     "--no-first-run", "--disable-background-networking", "--disable-component-update"):  # fmt: skip
            options.add_argument(word)
        options.set_capability("goog:loggingPrefs", {"performance": "ALL", "browser": "ALL"})
        options.add_experimental_option(
            "prefs", {"download.default_directory": str(downloads), "download.prompt_for_download": False}
        )  # fmt: skip
        self.downloads = downloads
        self._driver = webdriver.Chrome(options=options, service=Service(cast(str, found[1])))
        self._driver.set_page_load_timeout(_PATIENCE)

    def close(self) -> None:
        """End the browser."""
        self._driver.quit()

    def tell(self, method: str, **values: Any) -> dict[str, Any]:
        """A command of the browser's protocol."""
        return cast(dict[str, Any], self._driver.execute_cdp_cmd(method, values))

    def open(self, file: Path, *, width: int = 1400, dark: bool = False, script: bool = True, media: str = "") -> None:
        """Open a file in a window of so many pixels."""
        self._driver.get("about:blank")
        self._logs()
        self.tell("Emulation.setScriptExecutionDisabled", value=not script)
        self.tell("Emulation.setDeviceMetricsOverride", width=width, height=900, deviceScaleFactor=1, mobile=False)
        self.media(dark=dark, media=media)
        self._driver.get(file.as_uri())
        end = time.monotonic() + _PATIENCE
        while self.ask("return [document.readyState, location.href]") != ["complete", file.as_uri()]:
            if time.monotonic() > end:
                raise AssertionError(f"{file} was not opened within {_PATIENCE} s")
            time.sleep(0.02)

    def media(self, *, dark: bool = False, media: str = "") -> None:
        """Dark or light; on a screen, or as if printed."""
        scheme = {"name": "prefers-color-scheme", "value": "dark" if dark else "light"}
        self.tell("Emulation.setEmulatedMedia", media=media, features=[scheme])

    def ask(self, code: str) -> Any:
        """The value of a piece of JavaScript, a promise's once it is kept."""
        wrapped = f"(async () => {{ {code} }})()"
        answer = self.tell("Runtime.evaluate", expression=wrapped, awaitPromise=True, returnByValue=True)
        if "exceptionDetails" in answer:
            raise AssertionError(answer["exceptionDetails"].get("exception", {}).get("description"))
        return answer["result"].get("value")

    def press(self, key: str, code: int = 0) -> None:
        """Press one key."""
        for kind in ("rawKeyDown", "keyUp"):
            self.tell("Input.dispatchKeyEvent", type=kind, key=key, code=key, windowsVirtualKeyCode=code)

    def _logs(self) -> tuple[list[str], list[str]]:
        requests = []
        for entry in self._driver.get_log("performance"):
            message = json.loads(entry["message"])["message"]
            if message["method"] == "Network.requestWillBeSent":
                requests.append(str(message["params"]["request"]["url"]))
        errors = [
            str(entry["message"])
            for entry in self._driver.get_log("browser")
            if entry["level"] in ("SEVERE", "WARNING")
        ]
        return requests, errors

    def heard(self) -> tuple[list[str], list[str]]:
        """What was asked for over any protocol but a file's and data's own, and what the console complained of, since
        the page was opened."""
        time.sleep(0.2)
        requests, errors = self._logs()
        return [url for url in requests if not url.startswith(("file:", "data:", "about:"))], errors

    def axe(self) -> list[dict[str, Any]]:
        """Faults that axe-core calls serious or critical."""
        if not AXE.is_file():
            missing(f"axe-core is not installed (npm install --prefix .ci/node axe-core); looked for {AXE}")
        # Evaluated by the browser's protocol, which the page's policy does not bind.
        self.tell("Runtime.evaluate", expression=AXE.read_text(encoding="utf-8"))
        found = json.loads(self.ask("return JSON.stringify((await axe.run()).violations)"))
        return [
            {
                "id": item["id"],
                "impact": item["impact"],
                "help": item["help"],
                "where": [node["html"][:160] for node in item["nodes"][:4]],
            }
            for item in found
            if item["impact"] in ("serious", "critical")
        ]

    def pdf(self, width: float, height: float) -> bytes:
        """The page printed, on paper of so many inches."""
        printed = self.tell(
            "Page.printToPDF", paperWidth=width, paperHeight=height, preferCSSPageSize=False, printBackground=True
        )
        return base64.b64decode(printed["data"])

    def downloaded(self, name: str) -> bytes:
        """A file that the browser has saved."""
        end = time.monotonic() + _PATIENCE
        while not (self.downloads / name).is_file() and time.monotonic() < end:
            time.sleep(0.05)
        return (self.downloads / name).read_bytes()

    def picture(self, file: Path) -> None:
        """The whole page as PNG."""
        size = self.tell("Page.getLayoutMetrics")["cssContentSize"]
        clip = {"x": 0, "y": 0, "width": size["width"], "height": size["height"], "scale": 1}
        shot = self.tell("Page.captureScreenshot", format="png", captureBeyondViewport=True, clip=clip)
        file.write_bytes(base64.b64decode(shot["data"]))
