"""A table of readings from elsewhere as a frame."""

from datetime import date
from pathlib import Path
from types import MappingProxyType

import numpy as np
import pandas as pd

from monitor.exchange.cell_parsers import zone_named
from monitor.exchange.csv_import import ParsedTable, parse_table
from monitor.exchange.csv_reader import read_rows
from monitor.exchange.frames import readings_frame
from monitor.exchange.infer_layout import SAMPLE_ROWS, infer_table_layout
from monitor.exchange.package_format import ExchangeError
from monitor.exchange.table_layout import parse_layout, stored_unit
from monitor.model import History, series_from


def read_table(
    path: str | Path,
    columns: str | None = None,
    *,
    zone: str | None = None,
    day: date | None = None,
    start: pd.Timestamp | None = None,
) -> pd.DataFrame:
    """The readings of a CSV file that another program wrote, as ``OpenedCook.readings`` has them.

    Encoding, delimiter, decimal comma, heading and footing are found out. columns: what its columns are, in order, as
    ``kettleside import --columns`` takes it (``"time:dmy,paste:degF"``); inferred where it is None. zone: of times that
    name none, such as ``Europe/Berlin``; this machine's by default. day: on which a table begins that has times of
    day alone. start: of a table whose times count from its start.

    Temperatures come out in degC, voltages in V. Cells that are no number are NaN. Rows are put in the order of time.
    Raises ExchangeError where the columns cannot be inferred or the file does not fit them, ValueError for a wrong
    ``columns`` or ``zone``.

    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     table = Path(folder) / "logger.csv"
    ...     _ = table.write_text("Zeit;Seife °C\\n14.03.2026 11:40:00;94,25\\n14.03.2026 11:40:30;94,5\\n")
    ...     read_table(table, zone="Europe/Berlin").reset_index()
                           time  paste_c
    0 2026-03-14 10:40:00+00:00    94.25
    1 2026-03-14 10:40:30+00:00    94.50
    """
    path = Path(path)
    chosen = zone_named(zone) if zone is not None else None
    if columns is None:
        inferred = infer_table_layout(read_rows(path, SAMPLE_ROWS))
        if not inferred.sure:
            raise ExchangeError(path, "its columns cannot be told; name them by columns, such as 'time:iso,paste:Cel'")
        columns = ",".join(inferred.columns)
        chosen = chosen or (zone_named(inferred.zone) if inferred.zone else None)
    table = parse_table(path, parse_layout(columns, chosen, day), lambda *_: None)
    if not table.dated and start is None:
        raise ExchangeError(path, "its times count from its start; say when that was by start")
    shift = 0.0 if table.dated or start is None else start.timestamp()
    return readings_frame(_history(table, shift))


def _history(table: ParsedTable, shift: float) -> History:
    moments = np.frombuffer(table.moments, dtype=np.float64) + shift
    series = {}
    for (_, column), values, faults in zip(table.layout.channels, table.values, table.faults, strict=True):
        value = np.frombuffer(values, dtype=np.float64)
        held = ~np.isnan(value)
        held[list(faults)] = True
        place = np.cumsum(held) - 1
        named = {int(place[row]): text for row, text in faults.items()}
        series[column.channel] = series_from(
            column.channel, stored_unit(column.unit), moments[held], moments[held], value[held], named.items()
        )
    return History(float(moments.min()), float(moments.max()), MappingProxyType(series))
