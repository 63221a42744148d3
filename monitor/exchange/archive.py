"""A data package as one .zip file, to mail."""

import tempfile
import zipfile
from collections.abc import Callable
from pathlib import Path

from monitor.exchange.calibrations import FILE
from monitor.exchange.package_format import ExchangeError, Progress
from monitor.exchange.package_reader import import_package
from monitor.exchange.package_writer import export_package

FILES = ("datapackage.json", "batch.json", "readings.csv", "packs.csv", "events.csv")
# Not every cook has these.
OPTIONAL = (FILE,)
# Written for other programs, and never read back.
ASIDE = ("readings.parquet", "packs.parquet", "events.parquet")
# Far beyond a day of ten channels; more is no cook but a trap for the disk.
MOST_BYTES = 1_000_000_000


def export_zip(recording: Path, parcel: Path, progress: Progress, *, parquet: bool = False) -> None:
    """Writes a recording as a zipped data package, to a file that must be new.

    parquet: whether the tables are in it as Parquet too. Raises RecordingError, ExchangeError, ParquetError.
    """
    if parcel.exists():
        raise ExchangeError(parcel, "it is there already")
    with tempfile.TemporaryDirectory(prefix="kettleside-") as space:
        folder = Path(space) / "package"
        export_package(recording, folder, progress, parquet=parquet)
        try:
            with zipfile.ZipFile(parcel, "x", zipfile.ZIP_DEFLATED) as archive:
                for name in (*FILES, *OPTIONAL, *ASIDE):
                    if name in FILES or (folder / name).exists():
                        archive.write(folder / name, name)
        except OSError as error:
            parcel.unlink(missing_ok=True)
            raise ExchangeError(parcel, (error.strerror or str(error)).lower()) from None


def import_zip(parcel: Path, folder: Path, progress: Progress, tell: Callable[[str], None] = lambda _: None) -> Path:
    """Reads a zipped data package into a new recording in ``folder``; its path.

    The package may stand at the top of the archive or in one folder of it. Raises ExchangeError.
    """
    with tempfile.TemporaryDirectory(prefix="kettleside-") as space:
        package = Path(space)
        try:
            with zipfile.ZipFile(parcel) as archive:
                _unpack(parcel, archive, package)
        except (zipfile.BadZipFile, NotImplementedError, RuntimeError, EOFError):
            raise ExchangeError(parcel, "it is not a .zip file that can be read") from None
        except OSError as error:
            raise ExchangeError(parcel, (error.strerror or str(error)).lower()) from None
        try:
            return import_package(package, folder, progress, tell)
        except ExchangeError as error:
            # The reader knows the parcel, not the folder it was unpacked into.
            raise ExchangeError(parcel / error.place.name, error.why) from None


def _unpack(parcel: Path, archive: zipfile.ZipFile, package: Path) -> None:
    """Copies the package's files out by their names alone, so that no name in the archive leads anywhere else."""
    left = MOST_BYTES
    for name in (*FILES, *OPTIONAL):
        found = [info for info in archive.infolist() if info.filename.replace("\\", "/").rsplit("/", 1)[-1] == name]
        if not found and name in OPTIONAL:
            continue
        if len(found) != 1:
            raise ExchangeError(parcel, f"it holds {'no' if not found else 'more than one'} {name}")
        with archive.open(found[0]) as source, (package / name).open("wb") as target:
            while chunk := source.read(1 << 16):
                left -= len(chunk)
                if left < 0:
                    raise ExchangeError(parcel, "it unpacks to more than any cook")
                target.write(chunk)
