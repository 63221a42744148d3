"""The structure holds: packages import downward through public faces, and outside libraries stay in their places."""

import ast
import re
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

import pytest
from importlinter.cli import lint_imports

ROOT = Path(__file__).resolve().parents[2]
FILES = sorted(str(path.relative_to(ROOT)) for part in ("monitor", "dashboard") for path in (ROOT / part).rglob("*.py"))
PACKAGES = sorted(f"monitor.{path.parent.name}" for path in (ROOT / "monitor").glob("*/__init__.py"))

# Each of these is imported nowhere else.
PLACES: dict[str, tuple[str, ...]] = {
    "time": ("monitor/runtime/clock.py",),
    "sqlite3": ("monitor/storage/", "monitor/exchange/"),
    "fcntl": ("monitor/runtime/",),
    "serial": ("monitor/sources/",),
    "paho": ("monitor/sources/", "monitor/simulator/device.py"),
    "apprise": ("monitor/notifications/channels/",),
    "pandas": ("monitor/api.py", "monitor/exchange/", "monitor/session/", "monitor/plots/", "dashboard/"),
    "pyarrow": ("monitor/exchange/",),
    "dash": ("dashboard/",),
    "flask": ("dashboard/",),
    "zeroconf": ("dashboard/server/mdns.py",),
    "plotly": ("monitor/plots/", "dashboard/"),
    "kaleido": ("monitor/plots/",),
    "shtab": ("monitor/cli/completion.py",),
}
# A pure package reads no file but its own tables, opens no port and asks no clock.
PURE = (
    "model",
    "protocol",
    "chemistry",
    "probes",
    "formulation",
    "estimation",
    "detection",
    "alarms",
    "analysis",
    "planning",
)
IMPURE = ("os", "socket", "subprocess", "threading", "sqlite3", "time", "fcntl", "signal")


def tree(name: str) -> ast.Module:
    return ast.parse((ROOT / name).read_text(encoding="utf-8"))


def imported(name: str) -> Iterator[str]:
    """Every module a file imports, those inside functions too."""
    for node in ast.walk(tree(name)):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0 and node.module, f"{name} imports relatively"
            yield node.module


def package(module: str) -> str:
    return ".".join(module.split(".")[:2])


def own_package(name: str) -> str:
    parts = name.split("/")
    return f"monitor.{parts[1]}" if parts[0] == "monitor" and len(parts) > 2 else parts[0]


def test_the_contracts_in_pyproject_are_kept() -> None:
    assert lint_imports(config_filename=str(ROOT / "pyproject.toml"), is_debug_mode=False, cache_dir=None) == 0


@pytest.mark.parametrize("name", FILES)
def test_packages_import_each_other_through_public_faces(name: str) -> None:
    for module in imported(name):
        if package(module) in PACKAGES and package(module) != own_package(name):
            assert module in PACKAGES, f"{name} imports {module}; import from {package(module)}"


@pytest.mark.parametrize("name", FILES)
def test_outside_libraries_stay_in_their_places(name: str) -> None:
    for module in imported(name):
        places = PLACES.get(module.split(".")[0])
        assert places is None or name.startswith(places), f"{name} imports {module}"


@pytest.mark.parametrize("name", [n for n in FILES if n.split("/")[1] in PURE and n.count("/") > 1])
def test_a_pure_package_touches_nothing_outside(name: str) -> None:
    for module in imported(name):
        assert module.split(".")[0] not in IMPURE, f"{name} imports {module}"


@pytest.mark.parametrize("name", FILES)
def test_only_the_clock_reads_the_system_time(name: str) -> None:
    for node in ast.walk(tree(name)):
        if isinstance(node, ast.Attribute) and node.attr in ("now", "today", "utcnow"):
            asked = isinstance(node.value, ast.Name) and node.value.id in ("datetime", "date")
            assert not asked or name == "monitor/runtime/clock.py"


def test_a_class_name_is_defined_once() -> None:
    names = Counter(
        node.name
        for name in FILES
        for node in ast.walk(tree(name))
        if isinstance(node, ast.ClassDef) and not node.name.startswith("_")
    )
    assert not [name for name, times in names.items() if times > 1]


@pytest.mark.parametrize("name", [f"{package.replace('.', '/')}/__init__.py" for package in PACKAGES])
def test_a_face_lists_its_public_names_once_and_says_what_it_is_for(name: str) -> None:
    module = tree(name)
    assert ast.get_docstring(module)
    listed = [
        element.value
        for node in module.body
        if isinstance(node, ast.Assign) and getattr(node.targets[0], "id", "") == "__all__"
        for element in getattr(node.value, "elts", [])
    ]
    handed_on = [
        alias.name
        for node in ast.walk(module)
        if isinstance(node, ast.ImportFrom) and package(node.module or "") == own_package(name)
        for alias in node.names
    ]
    lazily = [
        element.value
        for node in ast.walk(module)
        if isinstance(node, ast.Call) and getattr(node.func, "id", "") == "lazy_exports"
        for names in getattr(node.args[1], "values", [])
        for element in names.elts
    ]
    if name != "monitor/cli/__init__.py":
        assert sorted(listed) == sorted(handed_on)
        assert not lazily or sorted(lazily) == sorted(listed)


@pytest.mark.parametrize("name", FILES)
def test_a_module_is_at_most_300_lines_and_a_function_50(name: str) -> None:
    assert len((ROOT / name).read_text(encoding="utf-8").splitlines()) <= 300
    for node in ast.walk(tree(name)):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            length = (node.end_lineno or node.lineno) - node.lineno + 1
            assert length <= 50, f"{node.name} has {length} lines"


def test_each_benchmark_has_one_line_in_the_list() -> None:
    page = (ROOT / "tests" / "bench" / "README.md").read_text(encoding="utf-8")
    told = re.findall(r"^\| `python -m tests\.bench\.(\w+)", page, re.MULTILINE)
    benches = [path.stem for path in (ROOT / "tests" / "bench").glob("[!_]*.py")]
    assert sorted(told) == sorted(benches)


def test_the_top_level_folders_are_those_of_the_floor_plan() -> None:
    allowed = {
        *("README.md", "DEVELOPERS.md", "pyproject.toml", "monitor", "dashboard", "firmware_notes", "tests"),
        *("recordings", "LICENSE", "requirements.txt", "requirements-test.txt"),
    }
    # Left behind by an installation in place.
    made = {"kettleside.egg-info", "build", "dist"}
    extra = {path.name for path in ROOT.iterdir() if not path.name.startswith(".")} - allowed - made
    assert not extra
