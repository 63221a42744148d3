"""Recordings for notebooks and programs: the cooks of a folder, one opened cook, and an estimate from frames.

``import monitor`` gives the public names; this module is loaded when one of them is first asked for.
"""

from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import pandas as pd

from monitor.estimation import Estimate, Estimator, Prior, fit_kitchen
from monitor.exchange import events_frame, faults_frame, history_from_frames, readings_frame, unix_seconds, utc_index
from monitor.model import Batch
from monitor.session import Cook, Outlook, interval_coverage, kitchen_model, kitchen_outcomes
from monitor.storage import CookSummary, RecordingError, recordings, summary

# A line that ``plots`` draws is broken where readings are missing for longer.
LONGEST_GAP_S = 300.0
# A moment as a caller may give it: Unix seconds, a pandas or standard time with a zone, or RFC 3339 text.
Moment = float | str | pd.Timestamp


def cooks(folder: str | Path) -> pd.DataFrame:
    """The cooks of a folder, the latest first: one row a cook, its name as the index.

    Columns: ``title``; ``rig``, the cooker's name; ``started``, ``last_known`` and ``finished``, times in UTC, NaT
    where it has not finished; ``last_check``, what the last clarity check read; ``path``, for ``open_cook``. Files
    that cannot be read are left out and stand in ``attrs["unreadable"]``, path -> sentence. Raises RecordingError
    where there is no such folder.

    >>> cooks("recordings")[["title", "last_check"]].iloc[-1].to_dict()
    {'title': 'Invented: a smooth cook', 'last_check': 'clear'}
    """
    folder = Path(folder)
    if not folder.is_dir():
        raise RecordingError(folder, "there is no such folder")
    found: list[CookSummary] = []
    unreadable: dict[str, str] = {}
    for path in recordings(folder):
        try:
            found.append(summary(path))
        except RecordingError as error:
            unreadable[str(path)] = str(error)
    finished = [np.nan if cook.finished is None else cook.finished for cook in found]
    frame = pd.DataFrame(
        {
            "title": [cook.title for cook in found],
            "rig": [cook.about.rig for cook in found],
            "started": utc_index(np.array([cook.about.started for cook in found], dtype=np.float64)),
            "last_known": utc_index(np.array([cook.last_known for cook in found], dtype=np.float64)),
            "finished": utc_index(np.array(finished, dtype=np.float64)),
            "last_check": pd.Series([_last_check(cook) for cook in found], dtype="str"),
            "path": [str(cook.path) for cook in found],
        },
    )
    frame.index = pd.Index([cook.path.stem for cook in found], name="name")
    frame.attrs["unreadable"] = unreadable
    return frame


def outcomes(folder: str | Path) -> pd.DataFrame:
    """How the batches of a folder look after their week, as ``monitor.session.kitchen_outcomes`` tells it.

    >>> outcomes("recordings").columns[:3].tolist()
    ['title', 'look', 'lather']
    """
    return kitchen_outcomes(Path(folder))


def _last_check(cook: CookSummary) -> str | None:
    results = [str(event.fields["result"]) for event in cook.events if event.kind == "checked"]
    return results[-1] if results else None


@dataclass(frozen=True)
class OpenedCook:
    """One recording, as it was when it was opened. Made by ``open_cook``."""

    path: Path
    _cook: Cook = field(repr=False, compare=False)

    @property
    def title(self) -> str:
        """The batch's title, or the cooker's name where no batch sheet was given."""
        return self._cook.title()

    @property
    def batch(self) -> Batch | None:
        """The batch of the latest sheet, or None."""
        return self._cook.history().batch

    @property
    def prior(self) -> Prior:
        """What the cooks of the folder that had ended when this one began have taught."""
        return kitchen_model(self.path.parent, self._cook.history().started).prior()

    def readings(self, at: Moment | None = None) -> pd.DataFrame:
        """The readings, by the calibrations known: one row a moment, one column a channel, shape (n, channels).

        at: only what was known then. The index is ``time`` in UTC; a column's name ends with its unit (``paste_c``),
        and ``attrs["units"]`` has the units by SenML's names. A fault is NaN; ``faults`` tells what it was.

        >>> frame = open_cook("recordings/2026-05-02T090000Z-invented-smooth.cook").readings()
        >>> frame.shape, frame.attrs["units"]["paste_c"], float(frame["paste_c"].max())
        ((1364, 3), 'Cel', 94.25)
        """
        return readings_frame(self._cook.history(moment_s(at)))

    def faults(self, at: Moment | None = None) -> pd.DataFrame:
        """The readings that were faults: index ``time``, columns ``channel`` and ``fault`` in the sender's words."""
        return faults_frame(self._cook.history(moment_s(at)))

    def events(self, at: Moment | None = None) -> pd.DataFrame:
        """The events by the time at which they happened: ``kind``, ``known``, ``uid`` and their fields.

        at: only what was known then. A field's name holds its unit (``sample_g``, ``temperature_c``), and so does
        ``attrs["units"]``.

        >>> events = open_cook("recordings/2026-05-02T090000Z-invented-smooth.cook").events()
        >>> events.loc[events["kind"] == "checked", "result"].tolist()[-1]
        'clear'
        """
        return events_frame(self._cook.history(moment_s(at)))

    def outlook(self, at: Moment | None = None) -> Outlook:
        """What the monitor thinks at the end of what is recorded, or would have thought at a moment."""
        moment = moment_s(at)
        return self._cook.outlook(self._cook.last_known if moment is None else moment)

    def time_loss(self, reference: str | None = None) -> pd.DataFrame:
        """Where the time of an ended cook went: one row a cause, the dearest first, batch and oils last.

        Columns: ``cause``; ``lost_s``, seconds against the reference, below zero where it was quicker; ``begin`` and
        ``end``, times in UTC; ``advice``, one sentence. The seconds add up to ``attrs["total_s"]``;
        ``attrs["reference"]`` names the reference, ``attrs["reference_s"]`` how long it takes, ``attrs["in_doubt"]``
        says where another cause may have been the dearest.

        reference: "ideal", "usual" (the median of the folder's other ended cooks), or the name of a cook of the same
        folder; by default the usual cook where there are enough, else the ideal. No rows where the cook has not
        ended. Raises RecordingError where the reference cannot be read.

        >>> loss = open_cook("recordings/2026-05-09T090000Z-invented-power-cut.cook").time_loss("ideal")
        >>> loss["cause"].iloc[0], round(loss["lost_s"].iloc[0] / 60)
        ('heat lost', 98)
        """
        report = self._cook.ledger(reference)
        losses = () if report is None else report.losses
        frame = pd.DataFrame(
            {
                "cause": pd.Series([loss.cause for loss in losses], dtype="str"),
                "lost_s": np.array([loss.seconds for loss in losses], dtype=np.float64),
                "begin": utc_index(np.array([loss.begins for loss in losses], dtype=np.float64)),
                "end": utc_index(np.array([loss.ends for loss in losses], dtype=np.float64)),
                "advice": pd.Series([loss.advice for loss in losses], dtype="str"),
            }
        )
        frame.attrs["units"] = {"lost_s": "s"}
        if report is not None:
            frame.attrs |= {
                "reference": report.reference,
                "reference_s": report.reference_s,
                "total_s": report.seconds,
                "in_doubt": report.in_doubt,
            }
        return frame

    def aligned(self, alignment: str = "lid on") -> pd.DataFrame:
        """The paste's temperature along an axis that cooks can be compared on, for ``plots.compare``.

        alignment: "lid on" or "thick trace", from which seconds are counted, or "equivalent time", in seconds at
        95 degC that would have done as much. Index ``elapsed_s`` (``equivalent_s``), column ``paste_c``;
        ``attrs["clear"]`` is the place of the first clear check, or None, ``attrs["not_clear"]`` those of the checks
        that were not; after the places ``attrs["breaks"]`` readings are missing for more than five minutes. No rows
        where the cook has no such beginning. Raises ValueError for another alignment.

        >>> open_cook("recordings/2026-05-02T090000Z-invented-smooth.cook").aligned().index.name
        'elapsed_s'
        """
        course = self._cook.track(alignment)
        places = np.empty(0) if course is None else course.at
        frame = pd.DataFrame({"paste_c": np.empty(0) if course is None else course.temperature_c})
        frame.index = pd.Index(places, name="equivalent_s" if alignment == "equivalent time" else "elapsed_s")
        frame.attrs |= {"units": {"paste_c": "Cel"}, "alignment": alignment}
        frame.attrs |= {"clear": None, "not_clear": [], "breaks": []}
        if course is not None:
            checks = [(at, result) for at, kind, result in course.marks if kind == "checked"]
            frame.attrs["clear"] = course.clear
            frame.attrs["not_clear"] = [at for at, result in checks if result != "clear"]
            frame.attrs["breaks"] = course.at[:-1][np.diff(course.moments) > LONGEST_GAP_S].tolist()
        return frame


def stated_times(folder: str | Path, most: int | None = None) -> pd.DataFrame:
    """The clear times that were stated along the ended cooks of a folder, and what came, for ``plots``.

    most: only the latest so many cooks.

    One row for each cook and share of its time (0.25, 0.5, 0.75), the latest cook first, its name as the index.
    Columns: ``share``; ``low``, ``middle``, ``high``, the 10, 50 and 90 % points that were stated, ``not_yet``, the
    last sample that was not clear, and ``clear``, the first that was: times in UTC, NaT where there is none;
    ``outcome``: "came true", "too early", "too late" or "nothing was said".

    >>> stated = stated_times("recordings")
    >>> stated[stated["share"] == 0.5]["outcome"].tolist()
    ['came true', 'came true', 'came true']
    """
    found = interval_coverage(Path(folder), most=most)
    times = {
        "low": [one.stated[0] for _, one in found],
        "middle": [one.stated[1] for _, one in found],
        "high": [one.stated[2] for _, one in found],
        "not_yet": [one.not_yet for _, one in found],
        "clear": [one.clear for _, one in found],
    }
    frame = pd.DataFrame(
        {
            "share": np.array([one.share for _, one in found], dtype=np.float64),
            **{name: utc_index(np.array(column, dtype=np.float64)) for name, column in times.items()},
            "outcome": pd.Series([one.verdict.value for _, one in found], dtype="str"),
        }
    )
    frame.index = pd.Index([path.stem for path, _ in found], name="name")
    return frame


def open_cook(path: str | Path) -> OpenedCook:
    """Opens one recording to be asked. Raises RecordingError.

    >>> open_cook("recordings/2026-05-02T090000Z-invented-smooth.cook").title
    'Invented: a smooth cook'
    """
    return OpenedCook(Path(path), Cook(Path(path)))


def estimate(
    readings: pd.DataFrame,
    events: pd.DataFrame | None = None,
    batch: Batch | None = None,
    *,
    at: Moment | None = None,
    prior: Prior | None = None,
) -> Estimate:
    """How far the saponification is by the readings and events of frames such as ``OpenedCook`` gives.

    readings: times as its index; a column ``paste_c`` (or ``paste_f``, ``paste_k``). events: times as its index, a
    column ``kind``, the fields as columns (``result`` of a check). batch: for its alkali excess. at: later rows are
    left out; by default the last row of either. prior: what the kitchen knew (``OpenedCook.prior``); by default that of
    a kitchen without any finished cook.
    The answer is that of ``OpenedCook.outlook`` for the same data, without ``conditions``: whether something is wrong
    depends on when readings arrived, which a frame does not say. Raises ValueError where a frame is not so.

    >>> cook = open_cook("recordings/2026-05-02T090000Z-invented-smooth.cook")
    >>> now = pd.Timestamp("2026-05-02T11:00Z")
    >>> [f"{share:.2f}" for share in estimate(cook.readings(), cook.events(), cook.batch, at=now).converted]
    ['0.94', '0.97', '0.98']
    """
    history = history_from_frames(readings, events, batch, moment_s(at))
    return Estimator(prior or fit_kitchen([]).prior()).estimate(history, history.as_of)


def moment_s(at: Moment | None) -> float | None:
    """A moment as Unix seconds. Raises ValueError for text that is no time; one without a zone counts as UTC.

    >>> moment_s("2026-05-02T11:00Z"), moment_s(5)
    (1777719600.0, 5.0)
    """
    if at is None or isinstance(at, int | float):
        return None if at is None else float(at)
    return float(unix_seconds(pd.DatetimeIndex([pd.Timestamp(at)]))[0])
