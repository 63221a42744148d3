"""The house stands: imports run downward, every file has its floor, and the edges stay where they belong."""

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]

# floor: the modules on it, as patterns relative to the root; DEVELOPERS.md draws the same plan.
FLOORS: dict[int, tuple[str, ...]] = {
    0: (
        "monitor/__init__.py",
        "monitor/errors.py",
        "monitor/records.py",
        "monitor/history.py",
        "monitor/units.py",
        "monitor/channels.py",
        "monitor/renaming.py",
        "monitor/growing.py",
        "monitor/sheet.py",
        "monitor/wire.py",
        "monitor/arrival.py",
        "monitor/condition.py",
        "monitor/conditions/*.py",
        "monitor/detection/*.py",
        "monitor/noticing/*.py",
        "monitor/probes/*.py",
        "monitor/progress/*.py",
        "monitor/sums/*.py",
        "monitor/telling/*.py",
        "monitor/words.py",
        "monitor/rig/__init__.py",
        "monitor/rig/cooker.py",
        "monitor/rig/invented.py",
        "monitor/rig/maker.py",
        "monitor/rig/probes.py",
        "monitor/rig/scene.py",
        "monitor/rig/three_cooks.py",
    ),
    1: (
        "monitor/clock.py",
        "monitor/files.py",
        "monitor/place.py",
        "monitor/whereabouts.py",
        "monitor/logger_lock.py",
        "monitor/entries.py",
        "monitor/recording.py",
        "monitor/catalogue.py",
        "monitor/roll.py",
        "monitor/calibrations.py",
        "monitor/told.py",
        "monitor/exchange.py",
        "monitor/building.py",
        "monitor/foreign.py",
        "monitor/table.py",
        "monitor/cells.py",
        "monitor/guessing.py",
        "monitor/parcel.py",
        "monitor/parquet.py",
        "monitor/package_head.py",
        "monitor/rescue.py",
        "monitor/removal.py",
        "monitor/carried.py",
        "monitor/outcome.py",
        "monitor/found.py",
        "monitor/say.py",
        "monitor/signals.py",
        "monitor/bar.py",
    ),
    2: ("monitor/sources/*.py", "monitor/rig/device.py", "monitor/messengers/*.py"),
    3: (
        "monitor/logger.py",
        "monitor/keeper.py",
        "monitor/hold.py",
        "monitor/cookers.py",
        "monitor/one_logger.py",
        "monitor/resumption.py",
        "monitor/tally.py",
        "monitor/hearing.py",
        "monitor/lessons.py",
        "monitor/hindsight.py",
        "monitor/cook.py",
        "monitor/view.py",
        "monitor/stream.py",
        "monitor/judging.py",
        "monitor/dipping.py",
        "monitor/calibrating.py",
        "monitor/probe_view.py",
        "monitor/probe_steps.py",
        "monitor/notices.py",
        "monitor/outgoing.py",
        "monitor/trial.py",
        "monitor/watch.py",
        "monitor/rings.py",
        "monitor/supervisor.py",
        "monitor/service.py",
        "monitor/checkup/*.py",
    ),
    4: ("monitor/cli.py", "monitor/commands/*.py", "dashboard/*.py", "dashboard/pages/*.py"),
}

# Each of these is allowed nowhere else.
EDGES: dict[str, tuple[str, ...]] = {
    "time": ("monitor/clock.py",),
    "sqlite3": (
        "monitor/entries.py",
        "monitor/recording.py",
        "monitor/catalogue.py",
        "monitor/roll.py",
        "monitor/exchange.py",
        "monitor/rescue.py",
    ),
    "serial": ("monitor/sources/*.py",),
    "paho": ("monitor/sources/*.py", "monitor/rig/device.py"),
    "apprise": ("monitor/messengers/service.py",),
    "pandas": ("dashboard/figures.py",),
    "pyarrow": ("monitor/parquet.py",),
    "dash": ("dashboard/*.py", "dashboard/pages/*.py"),
    "plotly": ("dashboard/*.py", "dashboard/pages/*.py"),
    "flask": ("dashboard/*.py",),
}

DASHBOARD_MAY_USE = (
    "monitor.view",
    "monitor.rings",
    "monitor.probe_view",
    "monitor.probe_steps",
    "monitor.sums",
    "monitor.errors",
)


def sources() -> list[str]:
    found = [*(ROOT / "monitor").rglob("*.py"), *(ROOT / "dashboard").rglob("*.py")]
    return sorted(str(path.relative_to(ROOT)) for path in found)


def matches(name: str, patterns: tuple[str, ...]) -> bool:
    return any(Path(name).match(pattern) and name.count("/") == pattern.count("/") for pattern in patterns)


def floor_of(name: str) -> int | None:
    return next((floor for floor, patterns in FLOORS.items() if matches(name, patterns)), None)


def imported(name: str) -> Iterator[str]:
    """Every module a file imports, those inside functions too; `from a import b` counts as a.b where that is one."""
    for node in ast.walk(ast.parse((ROOT / name).read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0 and node.module, f"{name} imports relatively"
            for alias in node.names:
                inner = f"{node.module}.{alias.name}"
                yield inner if module_file(inner) else node.module


def module_file(module: str) -> str | None:
    base = module.replace(".", "/")
    return next((name for name in (f"{base}.py", f"{base}/__init__.py") if (ROOT / name).is_file()), None)


@pytest.mark.parametrize("name", sources())
def test_every_file_has_a_floor_and_imports_only_downward(name: str) -> None:
    floor = floor_of(name)
    assert floor is not None, f"{name} is on no floor: put it on one here and in DEVELOPERS.md"
    for module in imported(name):
        target = module_file(module)
        if target is None:
            continue
        below = floor_of(target)
        assert below is not None and below <= floor, f"{name} (floor {floor}) imports {target} (floor {below})"


@pytest.mark.parametrize("name", sources())
def test_the_edges_stay_where_they_belong(name: str) -> None:
    for module in imported(name):
        allowed = EDGES.get(module.split(".")[0])
        assert allowed is None or matches(name, allowed), f"{name} imports {module}"


@pytest.mark.parametrize("name", [name for name in sources() if name.startswith("dashboard/")])
def test_the_dashboard_knows_only_the_view_and_the_sums(name: str) -> None:
    for module in imported(name):
        if module.split(".")[0] == "monitor":
            assert module.startswith(DASHBOARD_MAY_USE), f"{name} imports {module}"


@pytest.mark.parametrize("name", sources())
def test_nobody_but_the_clock_asks_for_the_time(name: str) -> None:
    for node in ast.walk(ast.parse((ROOT / name).read_text(encoding="utf-8"))):
        if isinstance(node, ast.Attribute) and node.attr in ("now", "today", "utcnow") and name != "monitor/clock.py":
            assert not (isinstance(node.value, ast.Name) and node.value.id in ("datetime", "date")), name


# What a package of the lowest floor may use of the others that judge a cook; in this order none leads back.
JUDGES = ("detection", "noticing", "conditions", "progress")


@pytest.mark.parametrize(
    "name", [name for name in sources() if name.startswith(tuple(f"monitor/{one}/" for one in JUDGES))]
)
def test_what_judges_a_cook_runs_in_no_circle(name: str) -> None:
    own = JUDGES.index(name.split("/")[1])
    for module in imported(name):
        package = module.split(".")[1] if module.startswith("monitor.") else ""
        assert package not in JUDGES[own + 1 :], f"{name} imports {module}"


def test_the_plan_in_the_developers_page_is_this_one() -> None:
    page = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    rows = [line.split("|")[1:3] for line in page.splitlines() if line.startswith(("| 0", "| 1", "| 2", "| 3", "| 4"))]
    drawn = [(int(floor.strip()[0]), name) for floor, names in rows for name in re.findall(r"`([^`]+)`", names)]
    assert sorted(drawn) == sorted((floor, pattern) for floor, patterns in FLOORS.items() for pattern in patterns)


def test_each_benchmark_has_its_one_line() -> None:
    page = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    told = re.findall(r"^\| `python -m tests\.bench\.(\w+)", page, re.MULTILINE)
    benches = [path.stem for path in (ROOT / "tests" / "bench").glob("[!_]*.py")]
    assert sorted(told) == sorted(benches)


def test_the_plan_lists_no_file_that_is_gone() -> None:
    for patterns in FLOORS.values():
        for pattern in patterns:
            assert list(ROOT.glob(pattern)), f"{pattern} is on the plan but not in the house"


def test_the_top_level_holds_what_the_plan_says() -> None:
    allowed = {
        *("README.md", "DEVELOPERS.md", "pyproject.toml", "monitor", "dashboard", "firmware_notes", "tests"),
        *("recordings", "LICENSE", "requirements.txt", "requirements-test.txt"),
    }
    # Left behind by an installation in place.
    made = {"kettleside.egg-info", "build", "dist"}
    extra = {path.name for path in ROOT.iterdir() if not path.name.startswith(".")} - allowed - made
    assert not extra
