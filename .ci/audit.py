"""What the program is installed from: checks the locks, lists the licences, and asks for known vulnerabilities.

The first part needs no network and fails the run: every line of a lock pinned and hashed, every dependency of
pyproject.toml locked, what is installed equal to the lock, every licence known. The second part asks the advisory
service of the package index through pip-audit, and fails the run where there is a finding. Where the service or
pip-audit cannot be reached it says in large letters that NOTHING WAS ASKED, because silence would look like an answer;
with KETTLESIDE_AUDIT=required that, too, fails the run.
"""

import importlib.metadata
import json
import os
import re
import subprocess
import sys
import tempfile
import tomllib
import venv
from pathlib import Path

from packaging.markers import Marker

ROOT = Path(__file__).resolve().parents[1]
PIP_AUDIT = "pip-audit==2.9.0"
LOCKS = ("requirements.txt", "requirements-test.txt")
# Free licences that let the program be used and passed on as it is.
FREE = re.compile(
    r"\b(mit|bsd|apache|isc|0bsd|psf|python software|mpl|mozilla|zpl|zope|hpnd|unlicense|cc0|zlib|lgpl|lesser)",
    re.IGNORECASE,
)
_LINE = re.compile(r"([A-Za-z0-9][A-Za-z0-9._-]*)(?:\[[^\]]*\])?==([^\s;]+)\s*(?:;\s*([^\\]+?))?\s*\\?$")


def usual(name: str) -> str:
    """A project's name as the packaging specification compares it."""
    return re.sub(r"[-_.]+", "-", name).lower()


def read_lock(path: Path) -> tuple[dict[str, tuple[str, str]], list[str]]:
    """name -> (version, marker) of a lock, and what is wrong with it."""
    locked: dict[str, tuple[str, str]] = {}
    wrong: list[str] = []
    hashes = {}
    name = ""
    for line in path.read_text(encoding="utf-8").splitlines():
        if not line.strip() or line.lstrip().startswith("#"):
            continue
        if line.lstrip().startswith("--hash="):
            if re.fullmatch(r"--hash=sha256:[0-9a-f]{64}( \\)?", line.strip()):
                hashes[name] = hashes.get(name, 0) + 1
            else:
                wrong.append(f"{path.name}: a hash of {name} is not SHA-256")
        elif found := _LINE.match(line):
            name = usual(found[1])
            # The same name may stand there once for each kind of machine; the hashes of all are looked at.
            if not (marker := (found[3] or "").strip()) or Marker(marker).evaluate():
                locked[name] = (found[2], marker)
        else:
            wrong.append(f"{path.name}: not pinned to one version: {line.strip()[:60]}")
            name = "?"
    wrong += [f"{path.name}: {each} has no hash" for each in locked if not hashes.get(each)]
    return locked, wrong


def installed() -> dict[str, importlib.metadata.Distribution]:
    """What stands in this environment."""
    return {usual(each.metadata["Name"]): each for each in importlib.metadata.distributions()}


def licence(distribution: importlib.metadata.Distribution) -> str:
    """The licence that a package names, by whichever of three ways it does; empty if by none."""
    head = distribution.metadata
    classes = [each.split("::")[-1].strip() for each in head.get_all("Classifier", []) if each.startswith("License ::")]
    text = (head.get("License") or "").strip().splitlines()
    told = [head.get("License-Expression") or "", *classes, text[0][:60] if text else ""]
    return next((each for each in told if each), "")


def wrong_with_locks(root: Path, here: dict[str, importlib.metadata.Distribution]) -> list[str]:
    """One sentence for each thing that is wrong; prints the licences."""
    wrong: list[str] = []
    locks = {}
    for name in LOCKS:
        locks[name], found = read_lock(root / name)
        wrong += found
    project = tomllib.loads((root / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    for lock, asked in ((LOCKS[0], project["dependencies"]), (LOCKS[1], project["optional-dependencies"]["test"])):
        for each in asked:
            if usual(re.match(r"[\w.-]+", each)[0]) not in locks[lock]:  # type: ignore[index]
                wrong.append(f"{lock}: {each} of pyproject.toml is not locked")
    for name, (version, _) in locks[LOCKS[1]].items():
        if name in locks[LOCKS[0]] and locks[LOCKS[0]][name][0] != version:
            wrong.append(f"{name} is locked at two versions")
        if name not in here:
            wrong.append(f"{name} {version} is locked and not installed")
            continue
        if here[name].version != version:
            wrong.append(f"{name} {here[name].version} is installed and {version} locked")
        named = licence(here[name])
        shipped = name in locks[LOCKS[0]]
        print(f"  {name} {version}: {named or 'names no licence'}{'' if shipped else ' (tests only)'}")
        if not named or (shipped and not FREE.search(named)):
            wrong.append(f"the licence of {name} is {named or 'not named'}, which nobody has looked at")
    own = {"kettleside", "pip", "setuptools", "wheel"}
    wrong += [f"{name} is installed and not locked" for name in here if name not in locks[LOCKS[1]] and name not in own]
    return wrong


def ask_for_advisories(root: Path) -> tuple[str, list[str]]:
    """('asked' or why nothing was asked, the findings)."""
    with tempfile.TemporaryDirectory() as place:
        venv.create(place, with_pip=True)
        got = subprocess.run(
            [f"{place}/bin/pip", "install", "-q", PIP_AUDIT], capture_output=True, text=True, check=False
        )
        if got.returncode:
            return "pip-audit cannot be installed here", []
        asked = subprocess.run(
            [f"{place}/bin/pip-audit", "-r", str(root / LOCKS[1]), "--require-hashes", "--disable-pip", "-f", "json"],
            capture_output=True, text=True, check=False,
        )  # fmt: skip
    try:
        answer = json.loads(asked.stdout)["dependencies"]
    except (ValueError, KeyError, TypeError):
        return (asked.stderr.strip().splitlines() or ["pip-audit said nothing"])[-1][:200], []
    if skipped := [each["skip_reason"] for each in answer if "skip_reason" in each]:
        return f"it passed over {len(skipped)} of {len(answer)} packages ({skipped[0][:160]})", []
    return "asked", [f"{each['name']} {each['version']}: {bad['id']}" for each in answer for bad in each["vulns"]]


def main() -> int:
    """0 when nothing is wrong, else 1."""
    wrong = wrong_with_locks(ROOT, installed())
    state, findings = ask_for_advisories(ROOT)
    wrong += [f"known vulnerability: {each}" for each in findings]
    if state != "asked":
        print(
            f"NOTHING WAS ASKED about known vulnerabilities: {state}.\nThe locks were checked; the advisories were NOT."
        )
        if os.environ.get("KETTLESIDE_AUDIT") == "required":
            wrong.append("the advisories were not asked, and KETTLESIDE_AUDIT=required")
    else:
        print(f"The advisories were asked about every locked package: {len(findings)} findings.")
    for each in wrong:
        print(f"WRONG: {each}")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
