"""A headless Chromium for the tests of pages, driven over its DevTools pipe; nothing beyond the standard library.

The protocol: https://chromedevtools.github.io/devtools-protocol (messages as JSON, each ended by a NUL, read on
file descriptor 3 and written on 4).
"""

import base64
import json
import os
import shutil
import subprocess
import tempfile
import time
from pathlib import Path
from types import TracebackType
from typing import Any

import pytest

_NAMES = ("chromium", "chromium-browser", "google-chrome", "chrome")
_FLAGS = (
    *("--headless=new", "--no-sandbox", "--hide-scrollbars", "--mute-audio", "--no-first-run"),
    *("--disable-gpu", "--enable-unsafe-swiftshader", "--disable-background-networking"),
    *(
        "--disable-component-update",
        "--host-resolver-rules=MAP * ~NOTFOUND",
        "--disable-extensions",
    ),
)


def chromium() -> str:
    """The program; skips the test with a clear word where there is none."""
    found = next((path for name in _NAMES if (path := shutil.which(name))), None)
    if found is None:
        pytest.skip(
            "no chromium here: the report is not opened in a browser (apt-get install chromium)"
        )
    return found


class Browser:
    """One page at a time; what it asks for and what it complains of is kept.

    Attributes
    ----------
    requests : addresses asked for; complaints : console errors, exceptions, refusals.
    """

    def __init__(self, *flags: str) -> None:
        program = chromium()
        self.requests: list[str] = []
        self.complaints: list[str] = []
        self._number, self._buffer = 0, b""
        self._scripts: list[str] = []
        self._folder = tempfile.TemporaryDirectory(prefix="page-test-", ignore_cleanup_errors=True)
        read_here, write_there = os.pipe()
        read_there, write_here = os.pipe()
        line = f'exec "$0" "$@" 3<&{read_there} 4>&{write_there}'
        self._process = subprocess.Popen(
            [
                *("bash", "-c", line, program, *_FLAGS, *flags, "--remote-debugging-pipe"),
                f"--user-data-dir={self._folder.name}",
                "about:blank",
            ],
            pass_fds=(read_there, write_there),
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        os.close(read_there)
        os.close(write_there)
        self._in, self._out = os.fdopen(write_here, "wb"), os.fdopen(read_here, "rb", buffering=0)
        targets = self._send("Target.getTargets", {})["targetInfos"]
        page = next(one["targetId"] for one in targets if one["type"] == "page")
        self._session = self._send("Target.attachToTarget", {"targetId": page, "flatten": True})[
            "sessionId"
        ]
        for domain in ("Page", "Runtime", "Log", "Network"):
            self.call(f"{domain}.enable")
        offline = {"offline": True, "latency": 0, "downloadThroughput": 0, "uploadThroughput": 0}
        self.call("Network.emulateNetworkConditions", **offline)

    def __enter__(self) -> "Browser":
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._process.terminate()
        self._process.wait(10)
        self._in.close()
        self._out.close()
        self._folder.cleanup()

    def call(self, method: str, **parameters: Any) -> dict[str, Any]:
        """One command to the page; its result."""
        return self._send(method, parameters, self._session)

    def before_each(self, script: str) -> None:
        """A script of the test's own that runs in the next page before any of its programs."""
        self._scripts.append(
            self.call("Page.addScriptToEvaluateOnNewDocument", source=script)["identifier"]
        )

    def forget(self) -> None:
        """Take back scripts, touch and sensor readings of a test."""
        for one in self._scripts:
            self.call("Page.removeScriptToEvaluateOnNewDocument", identifier=one)
        self._scripts.clear()
        self.call("DeviceOrientation.clearDeviceOrientationOverride")
        self.call("Emulation.setTouchEmulationEnabled", enabled=False)

    def open(self, path: Path, width: int = 1280, height: int = 900, **media: str) -> None:
        """Open a file at a size of the window; ``media`` are features such as prefers_color_scheme="dark"."""
        size = {"width": width, "height": height, "deviceScaleFactor": 1, "mobile": width < 600}
        self.call("Emulation.setDeviceMetricsOverride", **size)
        features = [{"name": k.replace("_", "-"), "value": v} for k, v in media.items()]
        self.call("Emulation.setEmulatedMedia", features=features)
        self.call("Page.navigate", url=path.resolve().as_uri())
        self.wait(
            "document.readyState === 'complete' && typeof Page !== 'undefined' && Page.bench.found"
        )

    def wait(self, condition: str, seconds: float = 30.0) -> None:
        """Wait until an expression is true."""
        end = time.monotonic() + seconds
        while time.monotonic() < end:
            if self.value(f"Boolean({condition})"):
                return
            time.sleep(0.02)
        raise AssertionError(f"not so within {seconds} s: {condition}; {self.complaints}")

    def value(self, expression: str) -> Any:
        """The value of an expression in the page; promises are awaited."""
        told = self.call(
            "Runtime.evaluate", expression=expression, returnByValue=True, awaitPromise=True
        )
        if "exceptionDetails" in told:
            raise AssertionError(told["exceptionDetails"])
        return told["result"].get("value")

    def mouse(self, kind: str, x: float, y: float, down: bool = False) -> None:
        """A mouse event at a place of the window: mousePressed, mouseMoved, mouseReleased."""
        button = {"button": "left", "clickCount": 1, "buttons": int(down)}
        self.call("Input.dispatchMouseEvent", type=kind, x=x, y=y, **button)

    def key(self, name: str) -> None:
        """Press and release a key by its DOM name."""
        for kind in ("keyDown", "keyUp"):
            self.call("Input.dispatchKeyEvent", type=kind, key=name, code=name)

    def picture(self, path: Path, whole: bool = True) -> None:
        """A screenshot, of the whole page."""
        told = self.call("Page.captureScreenshot", captureBeyondViewport=whole)
        if whole:
            size = self.call("Page.getLayoutMetrics")["cssContentSize"]
            clip = {"x": 0, "y": 0, "width": size["width"], "height": size["height"], "scale": 1}
            told = self.call("Page.captureScreenshot", captureBeyondViewport=True, clip=clip)
        path.write_bytes(base64.b64decode(told["data"]))

    def print_to(self, path: Path) -> None:
        """Print as PDF with the page's own size."""
        told = self.call("Page.printToPDF", printBackground=True, preferCSSPageSize=True)
        path.write_bytes(base64.b64decode(told["data"]))

    def _send(
        self, method: str, parameters: dict[str, Any], session: str | None = None
    ) -> dict[str, Any]:
        self._number += 1
        message = {"id": self._number, "method": method, "params": parameters}
        if session:
            message["sessionId"] = session
        self._in.write(json.dumps(message).encode() + b"\0")
        self._in.flush()
        while True:
            told = self._next()
            if told.get("id") == self._number:
                if "error" in told:
                    raise AssertionError(f"{method}: {told['error']}")
                result: dict[str, Any] = told["result"]
                return result
            self._note(told)

    def _next(self) -> dict[str, Any]:
        while b"\0" not in self._buffer:
            more = self._out.read(1 << 20)
            if not more:
                raise AssertionError("the browser went away")
            self._buffer += more
        one, self._buffer = self._buffer.split(b"\0", 1)
        told: dict[str, Any] = json.loads(one)
        return told

    def processor_seconds(self) -> float:
        """Processor time of the browser so far, all its processes together."""
        told = self._send("SystemInfo.getProcessInfo", {})["processInfo"]
        return float(sum(one["cpuTime"] for one in told))

    def _note(self, told: dict[str, Any]) -> None:
        """Keep what the page asked for and what went wrong."""
        method, found = told.get("method"), told.get("params", {})
        if method == "Network.requestWillBeSent":
            self.requests.append(found["request"]["url"])
        elif method == "Runtime.exceptionThrown":
            self.complaints.append(str(found["exceptionDetails"]))
        elif method == "Runtime.consoleAPICalled" and found["type"] in (
            "error",
            "warning",
            "assert",
        ):
            self.complaints.append(str(found["args"]))
        elif method == "Log.entryAdded" and found["entry"]["level"] in ("error", "warning"):
            self._complain(found["entry"]["text"])

    def _complain(self, text: str) -> None:
        if "GL Driver Message" not in text:  # that drawing without a graphics card is slow
            self.complaints.append(text)
