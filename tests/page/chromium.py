"""A browser without a window, driven through its debugging pipe: no driver, no further package.

Messages are JSON ended by a zero byte (the Chrome DevTools Protocol); file descriptor 3 is what
the browser reads, 4 what it writes.
"""

from __future__ import annotations

import base64
import json
import os
import subprocess
from pathlib import Path
from typing import Any

NAME = "chromium"
OPTIONS = (
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-sync",
    "--disable-background-networking",
    "--disable-component-update",
    "--hide-scrollbars",
    "--remote-debugging-pipe",
)


class Browser:
    """One page; `folder` is new and empty."""

    def __init__(self, folder: Path) -> None:
        theirs_in, self._out = os.pipe()
        self._in, theirs_out = os.pipe()
        # The shell gives the pipes their numbers.
        script = f'exec "$@" 3<&{theirs_in} 4>&{theirs_out}'
        command = [NAME, *OPTIONS, f"--user-data-dir={folder}"]
        self._process = subprocess.Popen(
            ["bash", "-c", script, "bash", *command],
            pass_fds=(theirs_in, theirs_out),
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        os.close(theirs_in)
        os.close(theirs_out)
        self._session: str | None = None
        self._number, self._rest = 0, b""
        self.events: list[dict[str, Any]] = []
        target = self.ask("Target.createTarget", url="about:blank")["targetId"]
        attached = self.ask("Target.attachToTarget", targetId=target, flatten=True)
        self._session = attached["sessionId"]
        for domain in ("Page", "Network", "Log", "Runtime"):
            self.ask(f"{domain}.enable")

    def ask(self, method: str, **values: Any) -> Any:
        """The answer; what happens meanwhile is added to `events`."""
        self._number += 1
        message: dict[str, Any] = {"id": self._number, "method": method, "params": values}
        if self._session:
            message["sessionId"] = self._session
        os.write(self._out, json.dumps(message).encode() + b"\0")
        while True:
            found = self._next()
            if found.get("id") == self._number:
                assert "error" not in found, found
                return found["result"]
            self.events.append(found)

    def open(self, path: Path) -> None:
        """Go there, and wait until all is loaded; `events` are those since then."""
        self.events.clear()
        self.ask("Page.navigate", url=path.as_uri())
        while not any(event.get("method") == "Page.loadEventFired" for event in self.events):
            self.events.append(self._next())

    def look(self, width: int, scheme: str = "light", media: str = "") -> None:
        """A window so wide, on a light or a dark screen (or on paper: "print")."""
        self.ask(
            "Emulation.setDeviceMetricsOverride",
            width=width,
            height=900,
            deviceScaleFactor=1,
            mobile=False,
        )
        features = [{"name": "prefers-color-scheme", "value": scheme}]
        self.ask("Emulation.setEmulatedMedia", media=media, features=features)

    def value(self, expression: str) -> Any:
        """What it gives, as plain data."""
        found = self.ask("Runtime.evaluate", expression=expression, returnByValue=True)
        assert "exceptionDetails" not in found, found
        return found["result"].get("value")

    def png(self) -> bytes:
        """The top of the page as it is seen."""
        return base64.b64decode(self.ask("Page.captureScreenshot")["data"])

    def pdf(self, width_inches: float, height_inches: float) -> bytes:
        """All of it on paper of that size."""
        size = {"paperWidth": width_inches, "paperHeight": height_inches}
        return base64.b64decode(self.ask("Page.printToPDF", printBackground=True, **size)["data"])

    def close(self) -> None:
        self._session = None
        self.ask("Browser.close")
        self._process.wait(timeout=10)
        os.close(self._in)
        os.close(self._out)

    def _next(self) -> dict[str, Any]:
        while b"\0" not in self._rest:
            more = os.read(self._in, 1 << 20)
            assert more, "the browser is gone"
            self._rest += more
        message, self._rest = self._rest.split(b"\0", 1)
        found: dict[str, Any] = json.loads(message)
        return found
