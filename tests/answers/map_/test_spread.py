"""A map on several processes of dask: the same to the last bit, whoever is lost on the way."""

import os
import pickle
import signal
import subprocess
import sys
import time

import numpy as np
import pytest

import bedtide.answers.map_.run as run_module
from bedtide.answers.map_ import run as spread
from bedtide.answers.map_.run import Job, chunk_of, read, run_map
from bedtide.bed import read_bed
from bedtide.column import many as column_many
from bedtide.errors import FieldError
from bedtide.many import Ask
from bedtide.weather import Options
from helpers.region import region_of

ASKED = {"version of bedtide": "1"}


@pytest.fixture
def job(folder):
    beds = tuple(read_bed(folder / f"{name}.toml") for name in ("kitchen", "deep"))
    return Job((folder / "region.nc",), Options(), beds, Ask())


def run(job, path, *, tell=lambda done, chunks, left: None, chunk=1, scheduler=None, workers=1):
    return run_map(
        job, path, ASKED, chunk=chunk, anew=False, scheduler=scheduler, workers=workers, tell=tell
    )


def test_a_task_runs_in_one_thread(job, monkeypatch):
    asked, own = [], column_many.ThreadPoolExecutor

    def pool(workers):
        asked.append(workers)
        return own(workers)

    monkeypatch.setattr(column_many, "ThreadPoolExecutor", pool)
    run_module._figures(job._replace(ask=Ask(leave=None)), (0, 4))
    assert asked == [1]


def test_a_chunk_is_bounded_by_its_bed_days():
    assert chunk_of(10_957, 3, 1000) == 30  # 30 years, three beds: 30 * 32,871 is under a million
    assert chunk_of(365, 1, 50) == 50
    assert chunk_of(100_000, 20, 50) == 1


def test_a_job_goes_to_another_process(job):
    assert pickle.loads(pickle.dumps(job)) == job


def test_time_left_is_told(job, tmp_path):
    told = []
    run(job, tmp_path / "map.zarr", tell=lambda *each: told.append(each), chunk=2)
    assert [each[:2] for each in told] == [(0, 3), (1, 3), (2, 3), (3, 3)]
    assert told[1][2] > 0
    assert told[3][2] == 0


@pytest.mark.slow
@pytest.mark.filterwarnings("ignore")  # of the libraries, when a worker dies
def test_two_workers_one_killed_half_way_give_the_same(job, tmp_path):
    from distributed import LocalCluster

    run(job, tmp_path / "alone.zarr", chunk=6)
    killed = []
    with LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=None) as cluster:

        def tell(done, chunks, left):
            if done == 2 and not killed:
                killed.append(cluster.workers[0].pid)
                os.kill(killed[0], signal.SIGKILL)

        done = run(job, tmp_path / "two.zarr", tell=tell, scheduler=cluster.scheduler_address)
    assert killed
    assert done[:2] == (6, 0)
    assert (
        read(tmp_path / "two.zarr")
        .drop_attrs()
        .identical(read(tmp_path / "alone.zarr").drop_attrs())
    )


@pytest.mark.slow
@pytest.mark.filterwarnings("ignore")
def test_a_killed_command_carries_on(folder, tmp_path):
    words = [sys.executable, "-m", "bedtide", "map", folder / "region.nc", "--bed"]
    words += [folder / "kitchen.toml", "--workers", "2", "--chunk", "1", "--out", tmp_path / "out"]
    done = tmp_path / "out" / "map.zarr" / "done"
    first = subprocess.Popen(
        list(map(str, words)), stderr=subprocess.DEVNULL, stdout=subprocess.DEVNULL
    )
    end = time.monotonic() + 120
    while time.monotonic() < end and not list(done.glob("[0-9]*")):
        time.sleep(0.01)
    first.kill()
    first.wait()
    again = subprocess.run(list(map(str, words)), capture_output=True, text=True, check=False)
    assert again.returncode == 0, again.stderr
    assert "Carrying on: " in again.stderr
    other = [*words[:-1], tmp_path / "whole"]
    assert subprocess.run(list(map(str, other)), capture_output=True, check=False).returncode == 0
    stopped, whole = (read(tmp_path / name / "map.zarr") for name in ("out", "whole"))
    assert stopped.drop_attrs().identical(whole.drop_attrs())


PEAK = """
import resource, sys
from pathlib import Path
from bedtide.answers.map_.run import Job, run_map
from bedtide.bed import read_bed
from bedtide.many import Ask
from bedtide.weather import Options
path, bed, out = map(Path, sys.argv[1:])
job = Job((path,), Options(), (read_bed(bed),), Ask())
run_map(job, out, {}, chunk=5, anew=False, scheduler=None, workers=1, tell=lambda *each: None)
print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024)
"""


@pytest.mark.slow
def test_memory_does_not_grow_with_the_places(folder, tmp_path):
    peaks = []
    for rows, name in ((1, "few"), (10, "many")):
        path = tmp_path / f"{name}.nc"
        region_of(rows, 10, "2021-01-01", "2023-12-31").astype("f4").to_netcdf(path)
        words = [sys.executable, "-c", PEAK, path, folder / "kitchen.toml", tmp_path / name]
        done = subprocess.run(list(map(str, words)), capture_output=True, text=True, check=True)
        peaks.append(float(done.stdout))
    assert peaks[1] < peaks[0] + 25, peaks


@pytest.mark.slow
@pytest.mark.filterwarnings("ignore")
def test_a_cluster_that_does_not_work_is_said(cli, words, tmp_path, monkeypatch):
    from distributed import LocalCluster

    with LocalCluster(n_workers=0, dashboard_address=None) as cluster:
        address = cluster.scheduler_address
        monkeypatch.setattr(spread, "_PATIENCE", 2)
        idle = cli(*words, "--scheduler", address, "--out", tmp_path / "idle")
    assert idle.exit_code == 2
    assert f'no worker came to "{address}" in 2 seconds' in idle.stderr
    gone = cli(*words, "--scheduler", address, "--out", tmp_path / "gone")
    assert gone.exit_code == 2
    assert f'no scheduler of dask answers at "{address}"' in gone.stderr


@pytest.mark.slow
@pytest.mark.filterwarnings("ignore")
def test_a_worker_with_another_bedtide_is_refused_before_anything_is_kept(job, tmp_path):
    from distributed import LocalCluster

    other = tmp_path / "other" / "bedtide"
    other.mkdir(parents=True)
    (other / "__init__.py").write_text('__version__ = "0.0.1"\n')  # and nothing that a task needs
    with LocalCluster(n_workers=0, dashboard_address=None) as cluster:
        address = cluster.scheduler_address
        worker = subprocess.Popen(
            [sys.executable, "-m", "dask", "worker", address, "--nthreads", "1", "--no-nanny"],
            env={**os.environ, "PYTHONPATH": str(other.parent)},
            cwd=tmp_path,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        try:
            with pytest.raises(FieldError, match=r"its workers run bedtide 0\.0\.1, not"):
                run(job, tmp_path / "map.zarr", scheduler=address)
        finally:
            worker.kill()
            worker.wait()
    assert np.isnan(read(tmp_path / "map.zarr")["days"]).all()
