"""A map chunk by chunk, here or on a cluster, into a store that says which of them are done.

It is a zarr store as xarray and CF have it. A chunk counts as done once ``done`` says so, which is
written last; what was asked stands in the attribute `_MARK`, and a store is only gone on with where
that is the same.
"""

from __future__ import annotations

import hashlib
import json
import os
import pickle
import pydoc
import shutil
import tempfile
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import ExitStack
from functools import lru_cache, partial
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from bedtide import __version__
from bedtide.bed import bed_text
from bedtide.errors import FieldError, FileError
from bedtide.files import system_errors
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
_MARK: Final = "bedtide_map"
_WHOLE: Final = 256 << 20  # bytes; of larger files size and time of change are noted, not content
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
    asked: Mapping[str, str],
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


# --- the store -----------------------------------------------------------------------------------


def opened(
    path: Path, asked: Mapping[str, str], empty: xr.Dataset, *, chunk: int, anew: bool
) -> tuple[int, list[int]]:
    """Places in a chunk, and first places of the chunks that are still to do; makes the store.

    `empty` has all variables of the whole map. A store of another question is refused, or with
    `anew` replaced; what is no store of a map is refused always.
    """
    size = empty.sizes["place"]
    if path.exists():
        kept, done = _kept(path)
        before = kept["asked"]
        different = [each for each in before | asked if before.get(each) != asked.get(each)]
        if not different and not anew:
            chunk = int(kept["chunk"])
            return chunk, [at for at in range(0, size, chunk) if not done[at : at + chunk].all()]
        if not anew:
            raise FileError(
                str(path),
                f"it is of another question: different are {', '.join(different)}",
                expected="the same command as before, to carry on",
                hint="Choose another folder with --out, or begin anew with --anew; that drops the "
                "old figures",
            )
    _begin(path, asked, empty, chunk)
    return chunk, list(range(0, size, chunk))


def write_chunk(path: Path, first: int, figures: xr.Dataset) -> None:
    """Put the figures of a chunk into the store, and say last that they are there."""
    import zarr

    with system_errors(path):
        group: Any = zarr.open_group(str(path), mode="r+")
        last = first + figures.sizes["place"]
        for name, variable in figures.variables.items():
            if "place" in variable.dims:
                where = tuple(
                    slice(first, last) if dim == "place" else slice(None) for dim in variable.dims
                )
                group[name][where] = variable.to_numpy()
        group["done"][first:last] = 1


def read(path: Path) -> xr.Dataset:
    """All figures of a store."""
    import xarray as xr

    with xr.open_zarr(path, chunks=None) as lazy:
        found: xr.Dataset = lazy.load().drop_encoding()
    return found


def fingerprints(paths: Sequence[Path]) -> dict[str, str]:
    """What the weather files are known by: a checksum, of those over 256 MB size and time."""
    found = {}
    for path in paths:
        files = sorted(each for each in path.rglob("*") if each.is_file())
        for file in files if path.is_dir() else [path]:
            name = f"{path.name}/{file.relative_to(path)}" if path.is_dir() else path.name
            found[name] = _fingerprint(file)
    if len(found) > len(paths):  # of a folder one sum says enough
        whole = json.dumps(found, sort_keys=True).encode()
        return {", ".join(path.name for path in paths): hashlib.sha256(whole).hexdigest()}
    return found


def _fingerprint(file: Path) -> str:
    about = file.stat()
    if about.st_size > _WHOLE:
        return f"{about.st_size} bytes, {about.st_mtime_ns}"
    with file.open("rb") as opened_file:
        return hashlib.file_digest(opened_file, "sha256").hexdigest()


def _kept(path: Path) -> tuple[dict[str, Any], NDArray[np.bool_]]:
    """What a store says of itself, and places that are done; no store of a map is refused."""
    import zarr

    try:
        group: Any = zarr.open_group(str(path), mode="r", use_consolidated=False)
        return json.loads(group.attrs[_MARK]), group["done"][:] == 1
    except (OSError, KeyError, ValueError, TypeError):
        raise FileError(
            str(path),
            "it is there already and is no store that  bedtide map  wrote",
            expected="a folder without it",
            hint="Nothing was overwritten. Choose another folder with --out",
        ) from None


def _begin(path: Path, asked: Mapping[str, str], empty: xr.Dataset, chunk: int) -> None:
    """A store with all variables and no figure, which is there whole or not at all."""
    done = np.zeros(empty.sizes["place"], dtype=np.int8)
    lazy = empty.assign(done=("place", done, {"long_name": "done"})).chunk(place=chunk)
    encoding: dict[Any, dict[str, Any]] = {}
    for name, each in empty.data_vars.items():
        if each.dtype == object:  # texts are written as they are, empty
            lazy[name], encoding[name] = each, {"chunks": (min(chunk, done.size),)}
        elif "place" not in each.dims:
            lazy[name] = each
    lazy.attrs |= {_MARK: json.dumps({"asked": asked, "chunk": chunk})}
    with system_errors(path):
        path.parent.mkdir(parents=True, exist_ok=True)
        beside = Path(tempfile.mkdtemp(dir=path.parent, prefix=".bedtide-"))
        try:
            lazy.to_zarr(
                beside / path.name, compute=False, zarr_format=2, consolidated=True,
                encoding=encoding,
            )  # fmt: skip
            if path.exists():
                os.rename(path, beside / "old")
            os.rename(beside / path.name, path)
        finally:
            shutil.rmtree(beside, ignore_errors=True)
