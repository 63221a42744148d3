"""``kettleside delete``: asks once, and can be undone for a day."""

import shutil
from pathlib import Path

import pytest

from monitor.cli import main
from monitor.storage import RecordingError, recordings
from monitor.storage import trash as removal

INVENTED = Path(__file__).resolve().parents[2] / "recordings"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    for path in INVENTED.glob("*.cook"):
        shutil.copy(path, tmp_path)
    return tmp_path


def test_a_deleted_cook_is_listed_and_restored(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    name = recordings(folder)[0].stem
    where = ["--recordings", str(folder)]
    assert main(["delete", name, *where]) == 1
    assert "say --yes" in capsys.readouterr().err and len(recordings(folder)) == 3
    assert main(["delete", name, "--yes", *where]) == 0
    assert f"kettleside delete --undo {name}" in capsys.readouterr().out and len(recordings(folder)) == 2
    assert main(["delete", *where]) == 0
    assert capsys.readouterr().out.startswith(f"{name}  deleted ")
    assert main(["delete", "--undo", name, *where]) == 0
    assert len(recordings(folder)) == 3
    capsys.readouterr()
    assert main(["delete", "--undo", name, *where]) == 1
    assert "was not deleted within the last day" in capsys.readouterr().err


def test_a_deleted_cook_is_removed_after_a_day_and_not_before(folder: Path) -> None:
    path = recordings(folder)[0]
    gone = removal.remove(path, 1000.0)
    assert removal.purge(folder, 1000.0 + removal.KEPT_FOR_S) == 0 and gone.path.exists()
    assert removal.purge(folder, 1001.0 + removal.KEPT_FOR_S) == 1 and not gone.path.exists()
    with pytest.raises(RecordingError, match="was not deleted"):
        removal.restore(folder, path.stem)


def test_restoring_never_overwrites(folder: Path) -> None:
    path = recordings(folder)[0]
    other = recordings(folder)[1].read_bytes()
    removal.remove(path, 1000.0)
    path.write_bytes(other)
    with pytest.raises(RecordingError, match="there is a cook of this name again"):
        removal.restore(folder, path.stem)
    assert path.read_bytes() == other
