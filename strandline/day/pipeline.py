"""The steps from a day's folder to its results, once or while watching."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

from ridelog.regular_file import is_folder
from strandline.day.errors import DayError
from strandline.day.identify.roster import FILE as ROSTER
from strandline.day.identify.roster import Roster
from strandline.day.identify.roster_file import read_roster
from strandline.day.output.write_all import write_results
from strandline.day.reading.pass_over_folder import (
    Day,
    FoundPhoto,
    photos_of,
    read_what_is_new,
    refuse_unwritable,
)
from strandline.day.reading.pool import Engine, LocalPool
from strandline.day.reading.store import ResultsStore
from strandline.day.reading.version import program_version
from strandline.day.reading.watch import PAGE_RELOAD_S, Folder, watch
from strandline.day.reading.worker_job import READER
from strandline.day.results.assemble import assemble
from strandline.day.results.results import DayResults
from strandline.shared.worker import Limits
from suspension.quantities.lengths import Units

RESULTS = "results"


@dataclass(frozen=True)
class DayRequest:
    """Everything that one run over a day's folder was asked to do.

    Attributes
    ----------
    folder : Path
    out : Path or None
        Of the results; ``results`` in the folder where not given.
    roster : Path or None
        ``roster.csv`` in the folder where not given.
    print_scale, state : str or None
        Where the roster says nothing.
    workers : int or None
        As many as there are cores where not given.
    limits : Limits
    cluster : str or None
        Address of a scheduler.
    cluster_tls : Path or None
        Folder of the certificates for it.
    units : Units
        Of the page and the sheets.
    send : bool
    retry : bool
        Try again what took too long or too much memory.
    reader : str
        What workers call with a job, ``module:function``.
    program : str
        Version of the program whose stored readings count; see `program_version`.
    own_engine : function that gives an Engine, optional
        In place of the pool and the cluster.
    """

    folder: Path
    out: Path | None = None
    roster: Path | None = None
    print_scale: str | None = None
    state: str | None = None
    workers: int | None = None
    limits: Limits = field(default_factory=Limits)
    cluster: str | None = None
    cluster_tls: Path | None = None
    units: Units = Units.MM
    send: bool = False
    retry: bool = False
    reader: str = READER
    program: str = field(default_factory=program_version)
    own_engine: Callable[[], Engine] | None = None

    @property
    def day(self) -> Day:
        """Folders of the day, absolute."""
        folder = self.folder.absolute()
        return Day(folder, (self.out or folder / RESULTS).absolute(), self.limits, self.send)

    @property
    def roster_path(self) -> Path:
        """File of the roster."""
        return self.roster or self.folder / ROSTER

    def engine(self) -> Engine:
        """Start what reads the photos: processes here, or a cluster."""
        if self.own_engine is not None:
            return self.own_engine()
        if self.cluster is None:
            return LocalPool(self.reader, self.limits, self.workers)
        from strandline.day.reading.cluster import Cluster

        return Cluster(self.cluster, self.reader, self.limits, self.cluster_tls)

    def read_roster(self) -> Roster:
        """Read the roster as it is now."""
        return read_roster(self.roster_path, print_scale=self.print_scale, state=self.state)


def run_day(
    request: DayRequest,
    on_progress: Callable[[int, int], None] = lambda done, total: None,
) -> DayResults:
    """Read what is new and write all results.

    Parameters
    ----------
    request : DayRequest
    on_progress : function of (int, int)
        See `read_what_is_new`.

    Raises
    ------
    DayError
    """
    day = request.day
    _refuse_no_folder(day.folder)
    roster = request.read_roster()
    refuse_unwritable(day.out)
    with ResultsStore(day.out, request.program) as store:
        if request.retry:
            store.forget_lost()
        photos = photos_of(day, store)
        read_what_is_new(day, roster, photos, store, request.engine, on_progress)
        results = assemble(day.folder, roster, photos, store)
        write_results(results, store, day.out, request.units)
    return results


def watch_day(
    request: DayRequest,
    on_progress: Callable[[int, int], None],
    on_results: Callable[[DayResults], None],
    warn: Callable[[str], None],
    *,
    go_on: Callable[[], bool] = lambda: True,
    wait: Callable[[float], None] | None = None,
) -> None:
    """Read photos as they arrive, until it is stopped.

    Parameters
    ----------
    request : DayRequest
    on_progress : function of (int, int)
    on_results : function of DayResults
        Called when the page is new.
    warn : function of str
        Called when the roster cannot be used as it is now; the last good one stays in force.
    go_on, wait
        See `strandline.day.reading.watch.watch`.

    Raises
    ------
    DayError
    """
    day = request.day
    _refuse_no_folder(day.folder)
    roster = request.read_roster()
    refuse_unwritable(day.out)
    bikes = tuple({request.roster_path.parent / one.bike_file for one in roster.entries})
    files = Folder(day.folder, day.out, (request.roster_path, *bikes))
    with ResultsStore(day.out, request.program) as store:

        def update(settled: frozenset[Path]) -> None:
            nonlocal roster
            try:
                roster = request.read_roster()
            except DayError as error:
                warn(str(error))
            photos: list[FoundPhoto] = [one for one in photos_of(day, store) if one.path in settled]
            read_what_is_new(day, roster, photos, store, request.engine, on_progress)
            results = assemble(day.folder, roster, photos, store)
            write_results(results, store, day.out, request.units, reload_s=PAGE_RELOAD_S)
            on_results(results)

        try:
            if wait is None:
                watch(files, update, go_on=go_on)
            else:
                watch(files, update, go_on=go_on, wait=wait)
        finally:
            results = assemble(day.folder, roster, photos_of(day, store), store)
            write_results(results, store, day.out, request.units)


def _refuse_no_folder(folder: Path) -> None:
    if not is_folder(folder):
        raise DayError(
            f"There is no folder {folder}.", "Make one with “strandline day new”, or name another."
        )
