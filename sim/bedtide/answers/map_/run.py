"""A map chunk by chunk: one task a chunk of places, here or on a cluster, none done twice."""

from __future__ import annotations

import os
import pickle
import pydoc
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack
from functools import lru_cache, partial
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, NamedTuple

from bedtide import __version__
from bedtide.answers.map_.store import opened, write_chunk
from bedtide.bed import bed_text
from bedtide.errors import FieldError
from bedtide.many import Ask, no_figures, place_figures
from bedtide.weather import open_places, ready_places

if TYPE_CHECKING:
    import xarray as xr

    from bedtide.bed import Bed
    from bedtide.weather.options import Options

_BED_DAYS: Final = 1_000_000  # of a chunk
_USUAL: Final = 10_957  # days of a station file, which are not known before it is read
_TRIES: Final = 3  # workers that may be lost over one chunk
_VERSION: Final = "bedtide.__version__"
_PATIENCE: Final = 60  # seconds to wait for the first worker of a cluster
_ENVIRONMENT: Final = {
    **dict.fromkeys(("OMP_NUM_THREADS", "MKL_NUM_THREADS", "OPENBLAS_NUM_THREADS"), 1),
    **{"MALLOC_TRIM_THRESHOLD_": 1 << 28, "MALLOC_MMAP_THRESHOLD_": 1 << 25},
}  # of a worker: it keeps the memory of a chunk for the next, rather than ask for it anew
Tell = Callable[[int, int, float], None]


class Job(NamedTuple):
    """All that a worker needs to know of a map."""

    paths: tuple[Path, ...]  # whole ones: a worker may stand in another folder
    options: Options
    beds: tuple[Bed, ...]
    ask: Ask


class Done(NamedTuple):
    """What running a map came to."""

    chunks: int
    before: int  # chunks that an earlier run had done
    notes: tuple[str, ...] = ()  # what was done with the weather as a whole


def chunk_of(days: int, beds: int, places: int) -> int:
    """Places in a chunk, so that a task fits into a worker of any size."""
    return max(1, min(places, _BED_DAYS // max(days * beds, 1)))


def run_map(
    job: Job,
    path: Path,
    asked: Any,
    *,
    chunk: int | None,
    anew: bool,
    scheduler: str | None,
    workers: int | None,
    tell: Tell,
) -> Done:
    """Do all chunks that the store at `path` lacks; `tell` is told of each with seconds left."""
    whole = _opened(job.paths, pickle.dumps(job.options))
    places = whole.sizes["place"]
    chunk = chunk or chunk_of(whole.sizes.get("time", _USUAL), len(job.beds), places)
    empty = no_figures(job.beds, places, leave=job.ask.leave is not None)
    empty.attrs = {
        "Conventions": "CF-1.8",
        "title": "Beds by place",
        "bedtide_version": __version__,
        "bed_description": "\n".join(bed_text(bed) for bed in job.beds),
    }
    chunk, todo = opened(path, asked, empty, chunk=chunk, anew=anew)
    chunks = -(-places // chunk)
    before = chunks - len(todo)
    tell(before, chunks, float("nan"))
    begun = time.monotonic()
    spans = [(first, min(first + chunk, places)) for first in todo]
    with ExitStack() as stack:
        finished = crew(stack, partial(_figures, job), spans, scheduler, workers)
        for number, ((first, _), figures) in enumerate(finished, start=1):
            write_chunk(path, first, figures)
            left = (time.monotonic() - begun) / number * (len(todo) - number)
            tell(before + number, chunks, left)
    return Done(chunks, before, tuple(whole.attrs.get("assumptions", ())))


def _figures(job: Job, span: tuple[int, int]) -> xr.Dataset:
    """Figures of one chunk; runs in a worker, in one thread."""
    block = _opened(job.paths, pickle.dumps(job.options)).isel(place=slice(*span))
    ready = ready_places(block, job.options)
    figures = place_figures(job.beds, ready, job.ask, threads=1)
    return figures.assign_attrs(bedtide_version=__version__)


@lru_cache(maxsize=1)
def _opened(paths: tuple[Path, ...], options: bytes) -> xr.Dataset:
    """The weather, opened once in a process."""
    return open_places(paths, pickle.loads(options))


def crew(
    stack: ExitStack,
    work: Callable[[tuple[int, int]], xr.Dataset],
    spans: Sequence[tuple[int, int]],
    scheduler: str | None,
    workers: int | None,
) -> Iterator[tuple[tuple[int, int], xr.Dataset]]:
    """Each span and what came of it, in the order in which they are finished.

    Without a scheduler as many processes as there are cores, or as are asked for; one is this
    process itself. A chunk whose worker is lost is done anew by another.
    """
    count = min(workers or len(os.sched_getaffinity(0)), max(len(spans), 1))
    if scheduler is None and count == 1:
        for span in spans:
            yield span, work(span)
        return
    import dask
    import distributed

    dd: Any = distributed  # its types are not given

    stack.enter_context(
        dask.config.set(
            {
                "distributed.scheduler.allowed-failures": _TRIES,
                "distributed.worker.daemon": True,
                "distributed.worker.profile.enabled": False,
                "distributed.nanny.pre-spawn-environ": _ENVIRONMENT,
            }
        )
    )
    if scheduler is None:
        cluster = dd.LocalCluster(n_workers=count, threads_per_worker=1, dashboard_address=None)
        client: Any = stack.enter_context(dd.Client(stack.enter_context(cluster)))
    else:
        try:
            client = stack.enter_context(dd.Client(scheduler, timeout=10))
        except (OSError, TimeoutError, ValueError) as error:
            raise FieldError(
                "--scheduler",
                f'no scheduler of dask answers at "{scheduler}"',
                expected="an address such as  tcp://10.0.0.1:8786",
                hint="Begin one with  dask scheduler , or leave the option out to run here",
            ) from error
    _refuse_others({_version_of_first(client, scheduler)})  # it could not even read the tasks
    _refuse_others(set(client.run(pydoc.locate, _VERSION).values()))
    futures = dict(zip(client.map(work, spans, pure=False), spans, strict=True))
    for future in dd.as_completed(list(futures)):
        span = futures.pop(future)
        try:
            figures = future.result()
        except distributed.KilledWorker as error:
            raise FieldError(
                "map",
                f"the workers that did places {span[0]} to {span[1] - 1} were lost {_TRIES} times",
                expected="workers with enough memory",
                hint="Try fewer places in a task, with --chunk and --anew, or fewer workers",
            ) from error
        _refuse_others({figures.attrs["bedtide_version"]})
        yield span, figures
        future.release()


def _version_of_first(client: Any, scheduler: str | None) -> str | None:
    """Of bedtide on the first worker that comes; some clusters start them for a task."""
    asked = client.submit(pydoc.locate, _VERSION, pure=False)
    try:
        version: str | None = asked.result(timeout=_PATIENCE)
    except TimeoutError as error:
        raise FieldError(
            "--scheduler",
            f'no worker came to "{scheduler}" in {_PATIENCE} seconds',
            expected="at least one",
            hint=f"Begin some with  dask worker {scheduler} --nthreads 1",
        ) from error
    return version


def _refuse_others(versions: set[str | None]) -> None:
    """Refuse workers of another version of bedtide, or without it."""
    for other in versions - {__version__}:
        run = f"run bedtide {other}, not {__version__}" if other else "have no bedtide"
        raise FieldError(
            "--scheduler", f"its workers {run}", expected="the same version everywhere"
        )
