"""Readings outlive a full disk, a deleted file and a damaged recording."""

from pathlib import Path

import pytest

from monitor.storage import Recorder, RecordingError, load
from tests.logger.scripted import START, Run, count_of, pack


class TestFailures:
    """The disk fills up, the file vanishes: nothing is stored twice, what waits is stored later."""

    def full(self, monkeypatch: pytest.MonkeyPatch, run: Run) -> None:
        def refuse(recorder: Recorder) -> None:
            raise RecordingError(recorder.path, "the disk is full")

        monkeypatch.setattr(Recorder, "commit", refuse)

    def test_buffered_readings_survive_a_full_disk(self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        run = Run(tmp_path)
        works = Recorder.commit
        run.record(
            (START + 1, pack(60.0, START + 1, 1)),
            (START + 3, lambda: self.full(monkeypatch, run)),
            *((START + 4 + i, pack(61.0 + i, START + 4 + i, 2 + i)) for i in range(20)),
            (START + 30, lambda: monkeypatch.setattr(Recorder, "commit", works)),
            (START + 40, pack(99.0, START + 40, 22)),
        )
        (path,) = run.cooks
        assert load(path).series["paste"].value.tolist() == [60.0, *(61.0 + i for i in range(20)), 99.0]
        assert [text.partition(": ")[2].partition(".cook")[2] for text in run.reports.lines if "disk" in text] == [
            ": the disk is full. Readings are kept in memory and the write is tried again each second."
        ]
        assert sum("written again" in text for text in run.reports.lines) == 1
        assert len(run.source.acknowledged) == 22

    def test_the_buffer_is_bounded_and_dropped_packs_are_reported(
        self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        from monitor.logger import write_buffer

        monkeypatch.setattr(write_buffer, "MOST_RECORDS", 100)
        run = Run(tmp_path)
        works = Recorder.commit
        run.record(
            (START + 1, lambda: self.full(monkeypatch, run)),
            *((START + 2 + i, pack(float(i), START + 2 + i)) for i in range(200)),
            (START + 300, lambda: monkeypatch.setattr(Recorder, "commit", works)),
            (START + 400, pack(-1.0, START + 400)),
        )
        history = load(run.cooks[0])
        kept = history.series["paste"].value.tolist()
        lost = sum(count_of(event) for event in history.events if event.kind == "packs lost")
        assert 40 <= len(kept) <= 51 and len(kept) - 1 + lost == 200
        assert kept[:-1] == [float(i) for i in range(200 - len(kept) + 1, 200)]

    def test_a_deleted_recording_is_replaced_by_a_new_one(self, tmp_path: Path) -> None:
        run = Run(tmp_path)
        run.record(
            (START + 1, pack(60.0, START + 1)),
            (START + 5, lambda: run.cooks[0].unlink()),
            (START + 10, pack(61.0, START + 10)),
        )
        (path,) = run.cooks
        assert load(path).series["paste"].value.tolist() == [61.0]
        assert any("is gone; a new recording begins" in text for text in run.reports.lines)

    def test_a_damaged_recording_is_replaced_by_a_new_one(
        self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        run = Run(tmp_path)
        works = Recorder.commit
        spoilt: list[Path] = []

        def spoil(recorder: Recorder) -> None:
            spoilt[:] = spoilt or [recorder.path]
            if recorder.path in spoilt:
                raise RecordingError(recorder.path, "it is damaged", damaged=True)
            works(recorder)

        run.record(
            (START + 1, pack(60.0, START + 1, 1)),
            (START + 5, lambda: monkeypatch.setattr(Recorder, "commit", spoil)),
            (START + 10, pack(61.0, START + 10, 2)),
            (START + 20, pack(62.0, START + 20, 3)),
        )
        old, new = sorted(run.cooks, key=lambda path: path not in spoilt)
        assert load(old).series["paste"].value.tolist() == [60.0]
        assert load(new).series["paste"].value.tolist() == [61.0, 62.0]
        assert any("it is damaged. A new recording begins." in text for text in run.reports.lines)

    def test_a_file_in_place_of_the_folder_is_reported_in_one_sentence(self, tmp_path: Path) -> None:
        (tmp_path / "file").write_text("x")
        with pytest.raises(RecordingError, match=r"^file: "):
            Run(tmp_path / "file").record()
