"""A browser for tests of the page: Chromium as the system has it, driven by playwright."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, Page, sync_playwright

_SWITCHES = (
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
)  # fmt: skip
_PROGRAMS = ("chromium", "chromium-browser", "google-chrome")

PHONE = {"width": 390, "height": 844}
SMALL_PHONE = {"width": 320, "height": 568}
ON_ITS_SIDE = {"width": 844, "height": 390}
DESKTOP = {"width": 1280, "height": 900}


def chromium() -> str:
    """Return the path of the system's Chromium; skips the test where there is none."""
    found = os.environ.get("CHROMIUM") or next(filter(None, map(shutil.which, _PROGRAMS)), None)
    if not found:
        pytest.skip("no Chromium here: apt-get install chromium, or name one in CHROMIUM")
    return found


@contextmanager
def browser() -> Iterator[Browser]:
    """Start a browser for the block."""
    path = chromium()
    with sync_playwright() as driver:
        running = driver.chromium.launch(executable_path=path, args=list(_SWITCHES))
        try:
            yield running
        finally:
            running.close()


@dataclass
class Shown:
    """A page as shown, with all that it asked for and all that it said to the console."""

    page: Page
    requests: list[str] = field(default_factory=list)
    said: list[str] = field(default_factory=list)

    def value(self, key: str) -> str | None:
        """Return the plain value of an element by its key."""
        return self.page.get_attribute(f'[data-key="{key}"]', "data-value")

    def text(self, key: str) -> str:
        """Return the text of an element by its key."""
        return self.page.inner_text(f'[data-key="{key}"]')

    def go(self, address: str) -> None:
        """Change the part of the address after the sign #, as a link does."""
        self.page.evaluate(_GO, address)

    def visit(self, addresses: list[str], keys: list[str]) -> list[dict[str, str | None]]:
        """Return the plain values of keys at each of several addresses."""
        found: list[dict[str, str | None]] = self.page.evaluate(_VISIT, [addresses, keys])
        return found


_GO = """async address => {
  if (location.hash === "#" + address) return;
  const changed = new Promise(done => addEventListener("hashchange", done, { once: true }));
  location.hash = address;
  // The same address in other letters changes nothing, so it is not waited for any longer.
  await Promise.race([changed, new Promise(done => setTimeout(done, 100))]);
}"""
_VISIT = f"""async ([addresses, keys]) => {{
  const go = {_GO}, seen = [];
  for (const address of addresses) {{
    await go(address);
    seen.push(Object.fromEntries(keys.map(key => {{
      const element = document.querySelector(`[data-key="${{key}}"]`);
      return [key, element && element.offsetParent !== null ? element.dataset.value ?? null : null];
    }})));
  }}
  return seen;
}}"""


@contextmanager
def shown(running: Browser, path: Path, address: str = "", **context: Any) -> Iterator[Shown]:
    """Open a file in a context of its own: viewport, device_scale_factor, color_scheme, …"""
    apart = running.new_context(**{"viewport": PHONE, "color_scheme": "light", **context})
    page = apart.new_page()
    opened = Shown(page)
    page.on("request", lambda request: opened.requests.append(request.url))
    page.on("console", lambda message: opened.said.append(message.text))
    page.on("pageerror", lambda error: opened.said.append(str(error)))
    try:
        page.goto(f"{path.as_uri()}{'#' if address else ''}{address}")
        yield opened
    finally:
        apart.close()
