"""Batch sheets that are kept beside the recordings."""

from pathlib import Path

import pytest

from monitor.formulation import read_sheet
from monitor.storage import KeptSheetError, keep_sheet, kept_sheets, read_kept_sheet, remove_sheet

BATCH = read_sheet('title = "Brush soap"\n[[oil]]\nname = "rapeseed"\ngrams = 600\n[water]\ngrams = 540')


def test_a_kept_sheet_is_read_back_by_its_title(tmp_path: Path) -> None:
    assert keep_sheet(tmp_path, BATCH) == tmp_path / "sheets" / "brush-soap.toml"
    assert read_kept_sheet(tmp_path, "brush-soap") == BATCH
    assert [(sheet.name, sheet.batch) for sheet in kept_sheets(tmp_path)] == [("brush-soap", BATCH)]


def test_a_kept_sheet_is_written_over_only_where_that_is_asked(tmp_path: Path) -> None:
    keep_sheet(tmp_path, BATCH, "soap")
    with pytest.raises(KeptSheetError, match="one of that name is kept already"):
        keep_sheet(tmp_path, BATCH, "Soap!")
    assert keep_sheet(tmp_path, BATCH, "soap", replace=True).is_file()


def test_a_sheet_that_cannot_be_read_says_why(tmp_path: Path) -> None:
    (tmp_path / "sheets").mkdir()
    (tmp_path / "sheets" / "odd.toml").write_text("titel = 'x'", encoding="utf-8")
    (tmp_path / "sheets" / "bytes.toml").write_bytes(b"\xff")
    assert [(sheet.name, sheet.batch is None, bool(sheet.why)) for sheet in kept_sheets(tmp_path)] == [
        ("bytes", True, True),
        ("odd", True, True),
    ]


def test_a_removed_sheet_is_gone(tmp_path: Path) -> None:
    keep_sheet(tmp_path, BATCH)
    remove_sheet(tmp_path, "brush-soap")
    assert kept_sheets(tmp_path) == []


@pytest.mark.parametrize("name", ["nothing", "../kitchen", "a/b", ""])
def test_a_name_leads_nowhere_else(tmp_path: Path, name: str) -> None:
    (tmp_path / "kitchen.toml").write_text("", encoding="utf-8")
    for act in (read_kept_sheet, remove_sheet):
        with pytest.raises(KeptSheetError):
            act(tmp_path, name)
    assert (tmp_path / "kitchen.toml").exists()


def test_a_missing_folder_is_named(tmp_path: Path) -> None:
    with pytest.raises(KeptSheetError, match="there is no folder"):
        keep_sheet(tmp_path / "none", BATCH)
