"""What is compiled is kept where it can be, works where it can't, and says what it is doing."""

from __future__ import annotations

import subprocess
import sys
import time
from pathlib import Path
from types import SimpleNamespace

import pytest
from numba import njit

from bedtide.column import compiled
from bedtide.column.compiled import cached, fingerprint, prepared

pytestmark = pytest.mark.compiled


def doubled():
    return njit(lambda x: 2.0 * x)


def test_a_function_that_finds_no_place_to_be_kept_still_works(monkeypatch):
    function = doubled()

    def nowhere():
        raise RuntimeError("cannot cache function: no locator available")

    monkeypatch.setattr(function, "enable_caching", nowhere)
    assert cached(function)(4.0) == 8.0


def test_a_cache_that_cannot_be_written_is_done_without(monkeypatch):
    function = doubled()
    calls = []

    class Full:
        def load_overload(self, *_):
            return None

        def save_overload(self, *_):
            calls.append("save")
            raise OSError(28, "No space left on device")

    function._cache = Full()
    prepared(function, lambda: function(4.0))
    assert calls == ["save"]
    assert function(4.0) == 8.0


@pytest.mark.parametrize("slow", [True, False])
def test_only_a_long_preparation_is_told(monkeypatch, capfd, slow):
    monkeypatch.setattr(compiled, "PATIENCE", 0.05)
    prepared(SimpleNamespace(signatures=[]), lambda: time.sleep(0.5 if slow else 0.0))
    time.sleep(0.1)
    told = capfd.readouterr()
    assert told.out == ""
    assert told.err.count("\n") == (1 if slow else 0)


def test_nothing_is_prepared_twice():
    def refuse():
        raise AssertionError

    prepared(SimpleNamespace(signatures=["there"]), refuse)


def test_what_was_kept_goes_with_any_text_of_its_folder(tmp_path):
    folder = tmp_path / "column"
    folder.mkdir()
    (tmp_path / "constants.py").write_text("A = 1\n")
    (folder / "one.py").write_text("x = 1\n")
    (folder / "two.py").write_text("y = 1\n")
    first = fingerprint(folder)
    assert fingerprint(folder) == first
    (folder / "two.py").write_text("y = 2\n")
    second = fingerprint(folder)
    (tmp_path / "constants.py").write_text("A = 2\n")
    assert len({first, second, fingerprint(folder)}) == 3


def test_it_is_kept_elsewhere_when_not_beside_the_package(tmp_path):
    """A fresh process that is told of a folder of its own puts the compiled step there."""
    import os

    code = (
        "from bedtide.column.run import run_columns as r; print(r._cache.cache_path);"
        "print(r._cache._cache_file._source_stamp)"
    )
    env = {**os.environ, "NUMBA_CACHE_DIR": str(tmp_path)}
    told = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, env=env, check=True
    )
    path, stamp = told.stdout.split()
    assert Path(path).is_relative_to(tmp_path)
    assert stamp == fingerprint(Path(compiled.__file__).parent)
