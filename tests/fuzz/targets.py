"""The parsers that get hostile input: each takes one input by its number and must give a value or its documented error."""

import math
import random
import shutil
from collections.abc import Callable, Mapping
from contextlib import closing
from datetime import date
from pathlib import Path

from monitor.exchange import ExchangeError, export_package, import_package, infer_table_layout, parse_layout, read_rows
from monitor.exchange.csv_import import import_csv
from monitor.formulation import SheetError, read_sheet, sheet_text
from monitor.model import make_event
from monitor.protocol import (
    BadLine,
    LineDecoder,
    Pack,
    PackError,
    SenmlRecord,
    encode_line,
    parse_columns_spec,
    parse_pack,
)
from monitor.runtime import Anchor
from monitor.sources.line_reader import LineReader
from monitor.storage import Recorder, RecordingError, connect_read_only, load, salvage_recording, summary
from tests.exchange.odd_cooks import recorded
from tests.fuzz.mutating import mutated, senml

START = 1_773_480_000.0
COLUMNS = parse_columns_spec("paste:Cel,ph:V")
COMMIT_EVERY = 500

_LINES = (
    encode_line([{"n": "paste", "u": "Cel", "v": 94.25}, {"n": "seq", "u": "count", "v": 1201}]),
    b'[{"n":"paste","u":"Cel","vs":"open circuit"},{"n":"ph","u":"V","v":-0.1623}]\r\n',
    b'[{"bn":"rig:","bt":1773480000,"n":"paste","u":"Cel","v":94.25},{"n":"wall","t":-5,"v":97}]\n',
    b"94.25,-0.1623\n",
    b"nan;1\r\n",
)
_LINE_WORDS = (b"\n", b"\r\n", b"*29B1", b"*0000\n", b"9" * 4200, b'"\\ud800"', b"1e999", b"-Infinity", b"[" * 600)

_SHEETS = (
    b'title = "Brush soap"\nstarted = 2026-03-14T10:20:00+00:00\n[[oil]]\nname = "rapeseed"\ngrams = 600\n'
    b'[alkali]\nkind = "KOH"\nassay = 0.90\nexcess = 0.03\n[water]\ngrams = 540\n',
    b'lot = "7"\n[[oil]]\nname = "olive"\ngrams = 250.5\nlot = "b"\n[[oil]]\nname = "own"\nsaponification_value = 189\n'
    b"grams = 90\n[alkali]\nnaoh_share = 0.1\nnaoh_assay = 0.98\ngrams = 140\n[glycerol]\ngrams = 20\n"
    b"[cooker]\nlitres = 3.5\n[scale]\ngrams = 0.1\n",
)
_SHEET_WORDS = (
    *(b"nan", b"inf", b"-1", b"1e400", b"9" * 5000, b"true", b"[]", b"{}", b'""', b"[[oil]]\n", b"[water]\n", b"\x00"),
    *(b"0001-01-01T00:00:00+23:59", b"9999-12-31T23:59:59-23:59", b"2026-03-14", b'"\\ud800"', b'"\\u007f"', b"\r"),
    *(b"a.b.c=1\n", b"[" * 600, b"'''", b'"""', b"0x", b"_", b"\xc3\xa9"),
)

_TABLES = (
    b"Nr;Zeit;Seife \xb0C;Wand \xb0C\n1;14.03.2026 11:40:00;93,5;99,1\n2;14.03.2026 11:40:30;93,75;99,0\n",
    b"time,paste,ambient temp\n2026-03-14T10:40:00Z,93.1,21\n2026-03-14T10:40:30Z,nan,21\n",
    b"elapsed min,temp F\n0,190.5\n1,191\n2,\n",
    "Datum\tUhr\tSeife °C\n14/03/26\t11:40:00\t93,5\n14/03/26\t11:41:00\t94\n".encode("utf-16"),
)
_TABLE_WORDS = (
    *(b'"', b'""', b";", b",", b"\t", b"\r", b"\x00", b"1e999", b"1e10", b"9" * 400, b"-", b"nan", b"31.02.2026"),
    *(b"0001-01-01T00:00:00+23:59", b"9999-12-31T23:59:59.9999999Z", b"24:00", b"\xff\xfe", b"\xe2\x88\x92", b"\n" * 5),
)


_PACKAGE_WORDS = (
    *(b"NaN", b"Infinity", b"-1", b"1e400", b"9" * 40, b"null", b"[]", b"{}", b'""', b'"\\ud800"', b"true", b"1e300"),
    *(b"0001-01-01T00:00:00Z", b"9999-12-31T23:59:59.9999999Z", b"nan", b"inf", b"\r", b"\x00", b"\xff", b'"', b","),
)


def _no_progress(_done: int, _of: int) -> None:
    """Nobody watches."""


class Targets:
    """The six of them over one folder. Each returns whether the input was taken; whatever else it raises is a fault."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._recorder = Recorder.create(folder / "stored", Anchor(START, START, "", 0.0), rig="cooker", source="fuzz")
        self._stored = 0
        self._sound = _sound_recording(folder)
        self._packed = recorded(folder / "packed", random.Random(7))
        self.all: Mapping[str, Callable[[random.Random], bool]] = {
            "serial lines": self.lines,
            "SenML packs": self.packs,
            "batch sheets": self.sheets,
            "CSV tables": self.tables,
            "data packages": self.packages,
            "recordings": self.recordings,
        }

    def run(self, name: str, number: int) -> bool:
        """Feeds input ``number`` to a target; whether it was taken."""
        return self.all[name](random.Random(f"{name} {number}"))

    def close(self) -> None:
        """Lets go of the recording that took every pack."""
        self._recorder.close()

    def _store(self, pack: Pack) -> None:
        """What was taken for a pack must be one that a recording can hold."""
        for record in pack.records:
            assert (record.value is None) == (record.fault is not None)
            assert record.value is None or math.isfinite(record.value)
            assert record.time is None or 0.0 <= record.time < 1e11
        self._recorder.add_pack(pack)
        self._stored += 1
        if self._stored % COMMIT_EVERY == 0:
            self._recorder.commit()

    def lines(self, chance: random.Random) -> bool:
        """Mutated lines in chunks: packs and bad lines, the same as in one piece."""
        data = mutated(b"".join(chance.choices(_LINES, k=chance.randint(1, 3))), _LINE_WORDS, chance)
        columns = COLUMNS if chance.random() < 0.5 else None
        whole, pieces, joined = LineDecoder(columns), LineDecoder(columns), LineReader(columns)
        items = [*whole.feed(data, START), *whole.flush(START)]
        got, place = [], 0
        while place < len(data):
            step = chance.randint(1, 200)
            got += pieces.feed(data[place : place + step], START)
            joined.feed(data[place : place + step], START, 0.0)
            place += step
        assert [*got, *pieces.flush(START)] == items
        joined.cut(START)
        for item in items:
            if isinstance(item, Pack):
                self._store(item)
            else:
                assert isinstance(item, BadLine) and item.first_bytes.isprintable() and item.why
        return any(isinstance(item, Pack) for item in items)

    def packs(self, chance: random.Random) -> bool:
        """JSON in the manner of SenML, one in four with mutated bytes too."""
        payload = senml(chance)
        if chance.random() < 0.25:
            payload = mutated(payload, _LINE_WORDS, chance)
        try:
            pack = parse_pack(payload, START, "kettleside/cooker/readings")
        except PackError as error:
            assert "\n" not in str(error)
            return False
        self._store(pack)
        return True

    def sheets(self, chance: random.Random) -> bool:
        """A mutated batch sheet: refused, or a batch that is written and read back the same."""
        text = mutated(chance.choice(_SHEETS), _SHEET_WORDS, chance).decode("utf-8", "replace")
        try:
            batch = read_sheet(text)
        except SheetError as error:
            str(error).encode()
            return False
        assert read_sheet(sheet_text(batch)) == batch
        return True

    def tables(self, chance: random.Random) -> bool:
        """A mutated table, with its inferred columns or, where none are inferred, with fixed ones."""
        path = self._folder / "table.csv"
        path.write_bytes(mutated(chance.choice(_TABLES), _TABLE_WORDS, chance))
        try:
            guessed = infer_table_layout(read_rows(path))
            spec = guessed.spec if guessed.sure else chance.choice(("time:iso,paste:Cel", "time:s,paste:mV"))
            made = import_csv(
                path, parse_layout(spec, day=date(2026, 3, 14)), self._folder / "tables", START, _no_progress
            )
        except (ExchangeError, RecordingError) as error:
            str(error).encode()
            return False
        assert all(len(series) for series in load(made).series.values())
        made.unlink()
        return True

    def packages(self, chance: random.Random) -> bool:
        """A package with one mutated file: refused with nothing left behind, or a cook that can be exported and imported."""
        package, again = self._folder / "package", self._folder / "again"
        for folder in (package, again):
            shutil.rmtree(folder, ignore_errors=True)
        export_package(self._packed, package)
        file = package / chance.choice(("batch.json", "readings.csv", "packs.csv", "events.csv"))
        file.write_bytes(mutated(file.read_bytes(), _PACKAGE_WORDS, chance))
        try:
            made = import_package(package, self._folder / "imported")
        except ExchangeError as error:
            str(error).encode()
            assert not list((self._folder / "imported").glob("*"))
            return False
        export_package(made, again)
        shutil.rmtree(made.parent)
        once_more = import_package(again, self._folder / "imported")
        summary(once_more)
        shutil.rmtree(once_more.parent)
        return True

    def recordings(self, chance: random.Random) -> bool:
        """A mutated recording: read or refused. One in ten is salvaged, which is slow, and must come out intact."""
        path = self._folder / "mutated.cook"
        # No words to put in: what matters here are cell pointers, lengths and page kinds.
        path.write_bytes(mutated(self._sound, (b"\0" * 512, b"\xff" * 512, b"\0" * 4096), chance))
        taken, rescues = True, chance.random() < 0.1
        for read in (summary, load):
            try:
                read(path)
            except RecordingError:
                taken = False
        if not rescues:
            return taken
        try:
            rescued = salvage_recording(path, self._folder / "rescued")
        except RecordingError:
            return False
        with closing(connect_read_only(rescued.path)) as connection:
            assert connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        load(rescued.path)
        summary(rescued.path)
        rescued.path.unlink()
        return taken


def _sound_recording(folder: Path) -> bytes:
    """A short finished cook as bytes, with something in every table."""
    recorder = Recorder.create(
        folder / "sound", Anchor(START, START, "b", 5.0), rig="cooker", source="test", sheet=_SHEETS[0].decode()
    )
    for i in range(60):
        at = START + i
        records = (
            SenmlRecord("paste", "Cel", 60.0 + i / 100.0, None, at),
            SenmlRecord("wall", "Cel", None, "open circuit", None),
        )
        recorder.add_pack(Pack(records, at, i, i * 7919))
    for i in range(4):
        recorder.add_event(make_event(f"e{i}", "note", START + i, START + i, {"text": "stirred early"}))
    recorder.add_withdrawal("e1", START + 30)
    recorder.add_event(make_event("end", "finished", START + 60, START + 60))
    recorder.finish()
    return recorder.path.read_bytes()
