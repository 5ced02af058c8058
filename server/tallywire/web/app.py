"""The web application: one door for the wire, a few that answer once, and the pages."""

from __future__ import annotations

from pathlib import Path

from starlette.applications import Starlette
from starlette.middleware import Middleware
from starlette.routing import Mount, Route, WebSocketRoute

from tallywire.shell.files import assets
from tallywire.shell.house import House
from tallywire.web.doors import Doors
from tallywire.web.headers import SafeHeaders
from tallywire.web.pages import Contents, page_files
from tallywire.web.settings import Settings
from tallywire.web.theme import ThemeDoor
from tallywire.web.wire_door import WireDoor


def create_app(house: House, settings: Settings, *, pages: Path | None = None) -> Starlette:
    """Give the application for a house. `pages` is the folder of the pages, the shipped ones unless given."""
    folder = assets("overlay") if pages is None else pages
    doors = Doors(house)
    theme = ThemeDoor(house.competition.theme)
    routes = [
        WebSocketRoute("/wire", WireDoor(house, settings).serve),
        Route("/health", doors.health),
        Route("/snapshot/{view}", doors.snapshot),
        Route("/recording", doors.recording),
        Route("/theme/sheet.css", theme.sheet),
        Route("/theme/face", theme.face),
        Route("/theme/logo", theme.logo),
        Route("/", Contents(folder, competition=house.competition.name).show),
        Mount("/", page_files(folder)),
    ]
    return Starlette(routes=routes, middleware=[Middleware(SafeHeaders)])
