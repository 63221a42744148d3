"""Locks between processes and whole-file writes: durable, and led astray by no link, pipe or device."""

import os
import stat
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from monitor.runtime.files import (
    append_line,
    file_identity,
    is_locked,
    is_same_file,
    locked,
    open_plain,
    read_bounded,
    try_lock,
    write_atomically,
)

WITHIN_S = 30


def make_link(path: Path) -> None:
    path.with_name("elsewhere").write_bytes(b"dear")
    path.symlink_to(path.with_name("elsewhere"))


ODD: tuple[Callable[[Path], None], ...] = (make_link, os.mkfifo, Path.mkdir)


def test_a_lock_has_one_holder_until_its_descriptor_is_closed(tmp_path: Path) -> None:
    path = tmp_path / "lock"
    first = try_lock(path, 0o600)
    assert first is not None and stat.S_IMODE(path.stat().st_mode) == 0o600
    assert try_lock(path) is None
    asking = open_plain(path)
    assert is_locked(asking)
    os.close(first)
    assert not is_locked(asking)
    os.close(asking)
    second = try_lock(path)
    assert second is not None
    os.close(second)


def test_a_lock_is_released_when_its_process_dies(tmp_path: Path) -> None:
    script = "import os, sys; from pathlib import Path; from monitor.runtime.files import try_lock\n"
    script += "print(try_lock(Path(sys.argv[1])), flush=True); os.kill(os.getpid(), 9)"
    ended = subprocess.run(
        [sys.executable, "-c", script, str(tmp_path / "lock")], capture_output=True, timeout=WITHIN_S, check=False
    )
    assert ended.returncode == -9 and int(ended.stdout) > 0
    with locked(tmp_path / "lock"):
        assert try_lock(tmp_path / "lock") is None


@pytest.mark.parametrize("odd", ODD)
def test_only_regular_files_are_locked_or_read(tmp_path: Path, odd: Callable[[Path], None]) -> None:
    path = tmp_path / "odd"
    odd(path)
    with pytest.raises(OSError):
        try_lock(path)
    with pytest.raises(OSError), locked(path):
        pass
    with pytest.raises(OSError):
        read_bounded(path, 100)


def test_an_atomic_write_replaces_a_link_and_not_its_target(tmp_path: Path) -> None:
    path = tmp_path / "settings"
    make_link(path)
    write_atomically(path, b"new")
    assert path.read_bytes() == b"new" and not path.is_symlink()
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    assert (tmp_path / "elsewhere").read_bytes() == b"dear"


def test_a_failed_write_keeps_the_old_content_and_leaves_no_temporary_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "settings"
    write_atomically(path, b"old", 0o644)

    def full(_descriptor: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(OSError, match="No space"):
        write_atomically(path, b"new")
    assert path.read_bytes() == b"old" and list(tmp_path.iterdir()) == [path]


def test_a_file_that_is_too_long_is_refused(tmp_path: Path) -> None:
    (tmp_path / "long").write_bytes(b"12345")
    assert read_bounded(tmp_path / "long", 5) == b"12345"
    with pytest.raises(OSError, match="more than 4 bytes"):
        read_bounded(tmp_path / "long", 4)


def test_a_line_cut_short_by_a_power_loss_does_not_swallow_the_next_line(tmp_path: Path) -> None:
    path = tmp_path / "lines"
    append_line(path, b"first")
    append_line(path, b"second")
    with path.open("ab") as file:
        file.write(b"thi")
    append_line(path, b"fourth")
    assert path.read_bytes() == b"first\nsecond\nthi\nfourth\n"


def test_a_replaced_file_is_noticed(tmp_path: Path) -> None:
    path = tmp_path / "file"
    path.write_bytes(b"")
    before = file_identity(path)
    opened = open_plain(path)
    assert before is not None and is_same_file(opened, path)
    write_atomically(path, b"")
    assert not is_same_file(opened, path) and file_identity(path) != before
    path.unlink()
    assert file_identity(path) is None and not is_same_file(opened, path)
    os.close(opened)
