"""A data package as one .zip file, for mailing."""

import tempfile
import zipfile
from collections.abc import Callable
from pathlib import Path

from monitor.exchange.calibrations import FILE
from monitor.exchange.package_format import ExchangeError, Progress
from monitor.exchange.package_reader import import_package
from monitor.exchange.package_writer import export_package

FILES = ("datapackage.json", "batch.json", "readings.csv", "packs.csv", "events.csv")
# Files that not every cook has.
OPTIONAL = (FILE,)
# Written for other programs, and never read back.
ASIDE = ("readings.parquet", "packs.parquet", "events.parquet")
# Far beyond a day of ten channels: an archive that unpacks to more would only fill the disk.
MOST_BYTES = 1_000_000_000


def export_zip(recording: Path, archive_path: Path, progress: Progress, *, parquet: bool = False) -> None:
    """Writes a recording as a zipped data package, to a file that must be new.

    parquet: whether the tables are in it as Parquet too. Raises RecordingError, ExchangeError, ParquetError.
    """
    if archive_path.exists():
        raise ExchangeError(archive_path, "it is there already")
    with tempfile.TemporaryDirectory(prefix="kettleside-") as space:
        folder = Path(space) / "package"
        export_package(recording, folder, progress, parquet=parquet)
        try:
            with zipfile.ZipFile(archive_path, "x", zipfile.ZIP_DEFLATED) as archive:
                for name in (*FILES, *OPTIONAL, *ASIDE):
                    if name in FILES or (folder / name).exists():
                        archive.write(folder / name, name)
        except OSError as error:
            archive_path.unlink(missing_ok=True)
            raise ExchangeError(archive_path, (error.strerror or str(error)).lower()) from None


def import_zip(
    archive_path: Path, folder: Path, progress: Progress, tell: Callable[[str], None] = lambda _: None
) -> Path:
    """Reads a zipped data package into a new recording in ``folder``. Returns the path of the recording.

    The package may stand at the top of the archive or in one folder of it. Raises ExchangeError.
    """
    with tempfile.TemporaryDirectory(prefix="kettleside-") as space:
        package = Path(space)
        try:
            with zipfile.ZipFile(archive_path) as archive:
                _unpack(archive_path, archive, package)
        except (zipfile.BadZipFile, NotImplementedError, RuntimeError, EOFError):
            raise ExchangeError(archive_path, "it is not a .zip file that can be read") from None
        except OSError as error:
            raise ExchangeError(archive_path, (error.strerror or str(error)).lower()) from None
        try:
            return import_package(package, folder, progress, tell)
        except ExchangeError as error:
            # A person knows the archive, not the folder into which it was unpacked.
            raise ExchangeError(archive_path / error.place.name, error.why) from None


def _unpack(archive_path: Path, archive: zipfile.ZipFile, package: Path) -> None:
    """Copies the package's files out by their names alone, so that no name in the archive leads anywhere else."""
    remaining = MOST_BYTES
    for name in (*FILES, *OPTIONAL):
        members = [info for info in archive.infolist() if info.filename.replace("\\", "/").rsplit("/", 1)[-1] == name]
        if not members and name in OPTIONAL:
            continue
        if len(members) != 1:
            raise ExchangeError(archive_path, f"it holds {'no' if not members else 'more than one'} {name}")
        with archive.open(members[0]) as source, (package / name).open("wb") as target:
            while chunk := source.read(1 << 16):
                remaining -= len(chunk)
                if remaining < 0:
                    raise ExchangeError(archive_path, "it unpacks to more than any cook")
                target.write(chunk)
