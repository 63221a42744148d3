"""Makes the icons of a phone's home screen from ``dashboard/assets/icon.svg``, in Debian's Chromium.

.venv/bin/python -m tests.bench.icons
"""

from pathlib import Path

from playwright.sync_api import sync_playwright

from dashboard.components.answers import ASSETS
from tests.browser.conftest import CHROMIUM, CHROMIUM_ARGS

# File -> its size in pixels, and how much of the drawing's size is kept: what a phone cuts to a shape of its own
# needs its drawing within a circle of four fifths (W3C, Web Application Manifest, "maskable").
ICONS = {
    "icon-192.png": (192, 1.0),
    "icon-512.png": (512, 1.0),
    "icon-maskable-512.png": (512, 0.84),
    "icon-180.png": (180, 1.0),
}
PAGE = '<body style="margin:0;background:#f7f0e1"><img src="data:image/svg+xml;base64,{}" style="width:100vw;height:100vh;transform:scale({})">'


def make_icons(svg: Path, folder: Path) -> None:
    """Writes every icon into ``folder``."""
    from base64 import b64encode

    drawing = b64encode(svg.read_bytes()).decode()
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=CHROMIUM_ARGS)
        for name, (pixels, share) in ICONS.items():
            page = browser.new_page(viewport={"width": pixels, "height": pixels})
            page.set_content(PAGE.format(drawing, share))
            page.locator("img").evaluate("(image) => image.decode()")
            page.screenshot(path=folder / name)
            page.close()
        browser.close()


if __name__ == "__main__":
    make_icons(ASSETS / "icon.svg", ASSETS)
