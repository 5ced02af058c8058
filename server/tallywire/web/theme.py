"""The theme of the competition as a style sheet with its files; without a theme an empty sheet."""

from __future__ import annotations

from starlette.requests import Request
from starlette.responses import Response

from tallywire.core.model.theme import Attachment, Theme
from tallywire.web.answers import problem

_FACE = """@font-face {
  font-family: "Theme";
  src: url("face") format("woff2");
  font-weight: 100 900;
  font-stretch: 50% 200%;
}
"""
_OTHER_FACES = '"Asap", "Noto Sans", "Noto Sans CJK SC", "Noto Sans Arabic", "Noto Sans Hebrew", system-ui, sans-serif'
"""Characters missing in the theme's typeface come from ours, and those of other scripts from the system."""
_LOGO = """.logo {
  display: block;
  background-image: url("logo");
}
"""


class ThemeRoutes:
    """The endpoints below /theme/."""

    def __init__(self, theme: Theme) -> None:
        self._theme = theme

    async def sheet(self, _request: Request) -> Response:
        """Give the style sheet."""
        return Response(style_sheet(self._theme), media_type="text/css")

    async def face(self, _request: Request) -> Response:
        """Give the typeface."""
        return _file(self._theme.face)

    async def logo(self, _request: Request) -> Response:
        """Give the logo for the logo slots."""
        return _file(self._theme.logo)


def style_sheet(theme: Theme) -> str:
    """Give the theme as CSS: the colours by role, the typeface, and the logo for its slots."""
    lines = "".join(f"  --{role}: {colour};\n" for role, colour in theme.colours.items())
    lines += f'  --face: "Theme", {_OTHER_FACES};\n' if theme.face else ""
    roles = f':root,\n[data-theme="dark"] {{\n{lines}}}\n' if lines else ""
    return (_FACE if theme.face else "") + roles + (_LOGO if theme.logo else "")


def _file(attachment: Attachment | None) -> Response:
    if attachment is None:
        return problem("not_found", "found none in this competition, expected its theme to have one", status=404)
    return Response(attachment.data, media_type=attachment.media_type)
