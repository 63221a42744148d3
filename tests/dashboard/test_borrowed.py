"""Third-party scripts are the published ones or built of such, to the byte, each beside its licence."""

import hashlib
from pathlib import Path

import pytest

ASSETS = Path(__file__).resolve().parents[2] / "dashboard" / "assets"

# File -> package, version, and the SHA-256 of the file of that package, taken from its published archive; of the bundle
# of plotly, of what .ci/plotly/build makes, which CI makes again.
BORROWED = {
    "60-plotly-lean.min.js": (
        "plotly.js 4.1.1, bundled by .ci/plotly/build",
        "fa7b67875ffbe1c68058143a21bc1b27c2bd5892ce77384ba4a3d693929583b9",
    ),
    "70-regenerator-runtime.js": (
        "regenerator-runtime 0.14.1, runtime.js",
        "7beda998b3fd277f3548e12b277bafc3037d243421f007032d38dffee412224c",
    ),
}


@pytest.mark.parametrize("name", BORROWED)
def test_third_party_scripts_are_these_bytes(name: str) -> None:
    source, published = BORROWED[name]
    assert hashlib.sha256((ASSETS / name).read_bytes()).hexdigest() == published, f"{name} is not {source}"
    licence = (ASSETS / f"{name.split('.')[0]}.LICENSE.txt").read_text(encoding="utf-8")
    assert "Permission is hereby granted, free of charge" in licence and "Copyright" in licence


def test_there_are_no_other_third_party_scripts() -> None:
    licences = {path.name for path in ASSETS.glob("*.LICENSE.txt")}
    assert licences == {f"{name.split('.')[0]}.LICENSE.txt" for name in BORROWED}
    assert {path.name for path in ASSETS.glob("*.min.*")} <= set(BORROWED)
