"""A real browser without a window, driven through its debugging pipe (the Chrome DevTools Protocol) by the standard
library alone. What the page does that a quiet page would not is kept in `heard`."""

from __future__ import annotations

import base64
import json
import os
import select
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from types import TracebackType
from typing import Any

from timerd.desk.report.browser import browser, quiet_flags

ANSWERS_WITHIN_S = 30.0
_HEARD = ("Runtime.exceptionThrown", "Log.entryAdded", "Page.javascriptDialogOpening", "Network.requestWillBeSent")
# The browser reads its orders from descriptor 3 and writes to 4.
_WITH_PIPES = """
import os, sys
orders, answers = (os.dup(int(word)) for word in sys.argv[1:3])
os.dup2(os.dup(answers), 9), os.dup2(orders, 3), os.dup2(9, 4)
os.set_inheritable(3, True), os.set_inheritable(4, True)
os.execv(sys.argv[3], sys.argv[3:])
"""


class Browser:
    """One browser with one page; a context manager. `found` is its program."""

    def __init__(self, found: str) -> None:
        self._profile = tempfile.TemporaryDirectory(prefix="timerd-browsing-", ignore_cleanup_errors=True)
        orders, self._write = os.pipe()
        self._read, answers = os.pipe()
        flags = [*quiet_flags(self._profile.name), "--remote-debugging-pipe", "--hide-scrollbars", "about:blank"]
        self._process = subprocess.Popen(
            [sys.executable, "-c", _WITH_PIPES, str(orders), str(answers), found, *flags], pass_fds=(orders, answers),
            stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
        )  # fmt: skip
        os.close(orders)
        os.close(answers)
        self._buffer, self._number = b"", 0
        self.heard: list[dict[str, Any]] = []
        self._session: str | None = None
        targets = self._ask("Target.getTargets")["targetInfos"]
        target = next(one["targetId"] for one in targets if one["type"] == "page")
        self._session = self._ask("Target.attachToTarget", targetId=target, flatten=True)["sessionId"]
        for domain in ("Page", "Runtime", "Log", "Network"):
            self._ask(f"{domain}.enable")

    def __enter__(self) -> Browser:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        os.close(self._write)  # it ends by itself when nobody is there to order
        try:
            self._process.wait(ANSWERS_WITHIN_S)
        finally:
            self._process.kill()
            os.close(self._read)
            self._profile.cleanup()

    def open(self, page: Path, width: int, media: str = "screen") -> None:
        """Open a page so wide, as tall as it is, as a screen or as paper shows it; `heard` begins anew."""
        self._ask("Emulation.setEmulatedMedia", media=media)
        self._size(width, 800)
        self.heard.clear()
        self._ask("Page.navigate", url=page.absolute().as_uri())
        self._until("Page.loadEventFired")
        self._size(width, int(self.value("document.documentElement.scrollHeight")))

    def value(self, script: str) -> Any:
        """What a script in the page comes to."""
        told = self._ask("Runtime.evaluate", expression=script, returnByValue=True)
        assert "exceptionDetails" not in told, told["exceptionDetails"]
        return told["result"].get("value")

    def picture(self) -> bytes:
        """All of the page as a PNG."""
        return base64.b64decode(self._ask("Page.captureScreenshot", captureBeyondViewport=True)["data"])

    def pdf(self, width_in: float, height_in: float) -> bytes:
        """The page on paper of this size."""
        told = self._ask("Page.printToPDF", paperWidth=width_in, paperHeight=height_in, printBackground=True)
        return base64.b64decode(told["data"])

    def _size(self, width: int, height: int) -> None:
        self._ask("Emulation.setDeviceMetricsOverride", width=width, height=height, deviceScaleFactor=1, mobile=False)

    def _ask(self, method: str, **parameters: object) -> Any:
        self._number += 1
        order = {"id": self._number, "method": method, "params": parameters}
        if self._session is not None:
            order["sessionId"] = self._session
        os.write(self._write, json.dumps(order).encode() + b"\0")
        while True:
            message = self._next()
            if message.get("id") == self._number:
                assert "error" not in message, (method, message["error"])
                return message["result"]

    def _until(self, event: str) -> None:
        while self._next().get("method") != event:
            pass

    def _next(self) -> dict[str, Any]:
        """The next message; those of a page that is not quiet are kept too."""
        ends = time.monotonic() + ANSWERS_WITHIN_S
        while b"\0" not in self._buffer:
            ready, _, _ = select.select([self._read], [], [], max(0.0, ends - time.monotonic()))
            more = os.read(self._read, 1 << 20) if ready else b""
            if not more:
                raise OSError("the browser ended" if ready else f"no answer within {ANSWERS_WITHIN_S:g} s")
            self._buffer += more
        told, _, self._buffer = self._buffer.partition(b"\0")
        message: dict[str, Any] = json.loads(told)
        if message.get("method") in _HEARD:
            self.heard.append(message)
        return message


def found() -> str | None:
    """The browser to test with."""
    return browser()
