"""Which addresses are open to whom; ``access_control`` and the index page hold to it."""

# Requested by scripts, so a browser that is not paired gets a status instead of the page that asks for the key.
JSON_PATHS = (
    "/live",
    "/due",
    "/log",
    "/back",
    "/earlier",
    "/change",
    "/keep",
    "/drop",
    "/costs",
    "/begin",
    "/try",
    "/probe-",
    "/phones/",
    "/set-up-",
    "/stock/",
    "/_dash-",
    "/_reload-hash",
)
# POST requests that change nothing, so a view-only link may send them.
READ_ONLY_POSTS = ("/_dash-update-component",)
# Manage access and ways of being told, so a view-only link may not open them.
OWNER_PATHS = ("/phones", "/set-up/")
# What a phone asks for without its cookie when it puts the app on its home screen; it tells of no cook.
PUBLIC_PATHS = (
    "/manifest.webmanifest",
    "/assets/icon-180.png",
    "/assets/icon-192.png",
    "/assets/icon-512.png",
    "/assets/icon-maskable-512.png",
    "/assets/icon.svg",
)

# Pictures of the manual.
PICTURES_PATH = "/manual-pictures"
PUSH_PATH = "/set-up/push"
TLS_PATH = "/set-up/tls"
SENDS_PATH = "/set-up/sends"
UNITS_PATH = "/set-up/units"
AUTHORITY_PATH = "/set-up/kettleside.crt"
MAKE_CERTIFICATE_PATH = "/set-up-certificate"


def is_for_owners(path: str) -> bool:
    """Whether an address is closed to view-only links.

    >>> [is_for_owners(path) for path in ("/phones", "/phones/name", "/set-up/push", "/set-up", "/phonesque")]
    [True, True, True, False, False]
    """
    return any(path == start or path.startswith(start.rstrip("/") + "/") for start in OWNER_PATHS)
