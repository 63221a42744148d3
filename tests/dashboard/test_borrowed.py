"""Third-party scripts are the published ones, to the byte, each beside its licence."""

import hashlib
from pathlib import Path

import pytest

ASSETS = Path(__file__).resolve().parents[2] / "dashboard" / "assets"

# File -> package, version, and the SHA-256 of the file of that package, taken from its published archive.
BORROWED = {
    "60-plotly-basic.min.js": (
        "plotly.js-basic-dist-min 4.1.1, plotly-basic.min.js",
        "99784e3abfb07b142a15e521a439e6d9addceadb3f79553fd24c72774f0649ba",
    ),
    "70-regenerator-runtime.js": (
        "regenerator-runtime 0.14.1, runtime.js",
        "7beda998b3fd277f3548e12b277bafc3037d243421f007032d38dffee412224c",
    ),
}


@pytest.mark.parametrize("name", BORROWED)
def test_third_party_scripts_are_the_published_bytes(name: str) -> None:
    source, published = BORROWED[name]
    assert hashlib.sha256((ASSETS / name).read_bytes()).hexdigest() == published, f"{name} is not {source}"
    licence = (ASSETS / f"{name.split('.')[0]}.LICENSE.txt").read_text(encoding="utf-8")
    assert "Permission is hereby granted, free of charge" in licence and "Copyright" in licence


def test_there_are_no_other_third_party_scripts() -> None:
    licences = {path.name for path in ASSETS.glob("*.LICENSE.txt")}
    assert licences == {f"{name.split('.')[0]}.LICENSE.txt" for name in BORROWED}
    assert {path.name for path in ASSETS.glob("*.min.*")} <= set(BORROWED)
