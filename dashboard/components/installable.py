"""What a phone needs to put the app on its home screen: a manifest, icons and colours.

There is no service worker: without its server the app has nothing to show, and what it had shown last would be taken
for what is.
"""

import json

from flask import Flask, Response
from markupsafe import Markup

from dashboard.components.answers import asset
from dashboard.components.shell import PLACES

MANIFEST_PATH = "/manifest.webmanifest"
NAME = "kettleside"
# The style sheet's paper, by light and by dark.
LIGHT, DARK = "#f7f0e1", "#1c2321"
ICONS = (("icon-192.png", 192, "any"), ("icon-512.png", 512, "any"), ("icon-maskable-512.png", 512, "maskable"))


def head_lines() -> str:
    """The lines of a page's head."""
    return (
        # With the cookie, because a proxy in front may want it; kettleside itself answers without.
        f'<link rel="manifest" href="{MANIFEST_PATH}" crossorigin="use-credentials">'
        f'<link rel="icon" type="image/svg+xml" href="{asset("icon.svg")}">'
        f'<link rel="apple-touch-icon" sizes="180x180" href="{asset("icon-180.png")}">'
        f'<meta name="theme-color" media="(prefers-color-scheme: light)" content="{LIGHT}">'
        f'<meta name="theme-color" media="(prefers-color-scheme: dark)" content="{DARK}">'
    )


def add_manifest(server: Flask) -> None:
    """Registers the manifest (W3C, Web Application Manifest) on ``server``."""

    def manifest() -> Response:
        icons = [
            {"src": asset(file), "sizes": f"{pixels}x{pixels}", "type": "image/png", "purpose": purpose}
            for file, pixels, purpose in ICONS
        ]
        told = {
            "id": "/",
            "name": NAME,
            "short_name": NAME,
            "description": "Stands beside the slow cooker in which soap is made.",
            "lang": "en-GB",
            "start_url": "/",
            "scope": "/",
            "display": "standalone",
            "background_color": LIGHT,
            "theme_color": LIGHT,
            "icons": icons,
            "shortcuts": [{"name": word, "url": path} for word, path in PLACES.values() if path != "/"],
        }
        response = Response(json.dumps(told), mimetype="application/manifest+json")
        # A file that is asked for again is compared with this.
        response.add_etag()
        return response

    # For the printed record, which is made from a template.
    server.context_processor(lambda: {"installing": Markup(head_lines())})
    server.add_url_rule(MANIFEST_PATH, MANIFEST_PATH, manifest)
