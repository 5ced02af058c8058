"""A public feed for a page: the newest list and its segment, as a test tells them; every question is counted."""

from __future__ import annotations

import json
import time
from typing import Any

from playwright.sync_api import Page, Route


class Feed:
    """What caches would give. Without `up` nothing comes."""

    def __init__(self, page: Page, picture: dict[str, Any]) -> None:
        self.picture = picture
        self.up = True
        self.asked: list[str] = []
        self._number = 1
        page.route("**/public/newest", self._newest)
        page.route("**/public/segments/*", self._segment)

    def show(self, picture: dict[str, Any]) -> None:
        """Close another segment."""
        self.picture = picture
        self._number += 1

    def _newest(self, route: Route) -> None:
        self._give(route, {"segment": f"{self._number}-test", "unix_ms": round(time.time() * 1000), "changes": {}})

    def _segment(self, route: Route) -> None:
        self._give(route, self.picture)

    def _give(self, route: Route, data: dict[str, Any]) -> None:
        self.asked.append(route.request.url)
        if self.up:
            route.fulfill(body=json.dumps(data), content_type="application/json")
        else:
            route.abort()
