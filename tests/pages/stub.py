"""A stub of the server: the pages as files, and a wire that says what a test tells it to say."""

from __future__ import annotations

import json
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from functools import partial
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any
from urllib.parse import parse_qsl

from playwright.sync_api import Page, WebSocketRoute

from tallywire.web.pages import SCRIPT, WrittenPages, page_files
from tallywire.web.sheets import WHOLE
from tallywire.wire.catalogue import LANGUAGES, catalogue, script

OVERLAY = Path(__file__).parents[2] / "overlay"


_FILES = page_files(OVERLAY)
_WRITTEN = WrittenPages(_FILES)


class _Quiet(SimpleHTTPRequestHandler):
    def log_message(self, format: str, *args: Any) -> None:
        """Say nothing."""

    def do_GET(self) -> None:
        """Serve a file of overlay/, a page in the language of its address, or the sheet of no theme."""
        path, _, query = self.path.partition("?")
        language = dict(parse_qsl(query)).get("lang", LANGUAGES[0])
        page = _WRITTEN.page(path, language)
        if page is not None:
            self._give("text/html", page)
        elif path.startswith("/languages/"):
            self._give("text/javascript", script(catalogue(path.removeprefix("/languages/").removesuffix(".js"))))
        elif path.endswith(f"/{WHOLE}"):
            self._give("text/css", _FILES.text(path[1:]) or "")
        elif path.endswith(f"/{SCRIPT}"):
            self._give("text/javascript", _FILES.text(path[1:]) or "")
        elif path == "/theme/sheet.css":
            self._give("text/css", "")
        else:
            super().do_GET()

    def _give(self, media: str, text: str) -> None:
        body = text.encode()
        self.send_response(200)
        self.send_header("Content-Type", f"{media}; charset=utf-8")
        self.send_header("Content-Length", str(len(body)))
        self.end_headers()
        self.wfile.write(body)

    def end_headers(self) -> None:
        """Serve as the server does: nothing from elsewhere, nothing inline."""
        self.send_header("Content-Security-Policy", "default-src 'self'; connect-src 'self' ws:")
        super().end_headers()


@contextmanager
def static_server() -> Iterator[str]:
    """Serve overlay/ and give its address."""
    server = ThreadingHTTPServer(("127.0.0.1", 0), partial(_Quiet, directory=str(OVERLAY)))
    thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.05})
    thread.start()
    try:
        yield f"http://127.0.0.1:{server.server_port}"
    finally:
        server.shutdown()
        thread.join()
        server.server_close()


class Wire:
    """The wire of one page. `frame` is sent to every watcher; without `up` no link opens."""

    def __init__(self, page: Page, frame: dict[str, Any]) -> None:
        self.frame = frame
        self.up = True
        self._routes: list[WebSocketRoute] = []
        self._watched: list[tuple[WebSocketRoute, dict[str, Any]]] = []
        self._number = 0
        page.route_web_socket("**/wire", self._open)

    def show(self, frame: dict[str, Any]) -> None:
        """Send another frame to all who watch."""
        self.frame = frame
        for route, message in self._watched:
            self._snapshot(route, message)

    @property
    def languages(self) -> list[str | None]:
        """The language that each watcher has asked for."""
        return [message.get("language") for _, message in self._watched]

    def drop(self) -> None:
        """Cut the link and let none open."""
        self.up = False
        routes, self._routes, self._watched = self._routes, [], []
        for route in routes:
            route.close()

    def _open(self, route: WebSocketRoute) -> None:
        if not self.up:
            route.close()
            return
        self._routes.append(route)
        route.on_message(lambda text: self._hear(route, json.loads(text)))

    def _hear(self, route: WebSocketRoute, message: dict[str, Any]) -> None:
        if message["type"] == "hello":
            self._send(route, {"type": "welcome", "role": "viewer", "mode": self.frame["mode"], "speed": 1})
        elif message["type"] == "watch":
            self._watched.append((route, message))
            self._snapshot(route, message)
        elif message["type"] == "ping":
            now_ms = round(time.time() * 1000)
            self._send(route, {"type": "pong", "t1": message["t1"], "t2": now_ms, "t3": now_ms})

    def _snapshot(self, route: WebSocketRoute, message: dict[str, Any]) -> None:
        self._number += 1
        named = {"view": message["view"], "heat": message["heat"], "epoch": "test", "number": self._number}
        self._send(route, {"type": "snapshot", **named, "frame": self.frame})

    @staticmethod
    def _send(route: WebSocketRoute, message: dict[str, Any]) -> None:
        route.send(json.dumps(message))
