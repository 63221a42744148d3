"""As whom the pages are served: not as root, where it can be helped."""

import os
import sys

from dashboard.auth.access_control import DashboardError


def drop_privileges(name: str) -> None:
    """Turns this process into the user of this name, for good. For the main thread, before any other is started.

    Raises DashboardError where there is no such user, it is root, or this process may not.
    """
    if sys.platform == "win32":
        raise DashboardError("On this system the pages are served as whoever starts them; leave --user out.")
    import pwd

    try:
        user = pwd.getpwnam(name)
    except (KeyError, ValueError):
        raise DashboardError(f"There is no user called {name!r} on this machine.") from None
    if user.pw_uid == 0:
        raise DashboardError(f"The user {name} is root; name one that is not.")
    if os.getuid() == user.pw_uid == os.geteuid():
        return
    try:
        os.initgroups(name, user.pw_gid)
        # Of root they set the saved ids too, so there is no way back.
        os.setgid(user.pw_gid)
        os.setuid(user.pw_uid)
    except PermissionError:
        raise DashboardError(f"Only root can serve as another user; this one cannot become {name}.") from None
    # Modules that are wanted later would fail one by one.
    shut = next((path for path in (os.__file__, __file__) if not os.access(path, os.R_OK)), None)
    if shut is not None:
        raise DashboardError(
            f"The user {name} cannot read {shut}, which is part of this program; install it in a folder for all, such "
            "as /opt/kettleside."
        )


def is_root() -> bool:
    """Whether this process may do everything."""
    return sys.platform != "win32" and os.geteuid() == 0
