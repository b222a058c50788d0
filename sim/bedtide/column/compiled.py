"""How the step is compiled, where that is kept, and that it is said while it happens."""

from __future__ import annotations

import hashlib
import sys
import threading
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import Any

from numba import njit

__all__ = ["cached", "compiled", "fingerprint", "inlined", "prepared"]

NOTICE = "Preparing the calculation; this happens once and takes some ten seconds ..."

PATIENCE = 3.0
"""Seconds after which it is said that something is being prepared."""

FASTMATH = {"contract", "nsz"}
"""Liberties with sums: multiply and add at once, no signed zero. Not a number stays what it is."""

compiled: Callable[[Any], Any] = njit(error_model="numpy", nogil=True, fastmath=FASTMATH)
"""Compile a function of the step; division by zero gives infinity, as in numpy."""

inlined: Callable[[Any], Any] = njit(error_model="numpy", inline="always", fastmath=FASTMATH)
"""Compile a small one into those that call it."""


def cached(function: Any) -> Any:
    """Keep what was compiled: beside the package, or else in the user's own cache folder.

    Where neither can be written it is compiled anew in each process. What was kept belongs to the
    text of this whole folder, since functions of its other files are compiled in.
    """
    with suppress(RuntimeError, OSError, AttributeError):
        function.enable_caching()
        function._cache._cache_file._source_stamp = fingerprint(Path(__file__).parent)
    return function


def fingerprint(folder: Path) -> str:
    """Mark of the sources in a folder, and of the constants beside it."""
    files = [*sorted(folder.glob("*.py")), folder.parent / "constants.py"]
    return hashlib.sha256(b"".join(file.read_bytes() for file in files)).hexdigest()


def prepared(function: Any, call: Callable[[], Any]) -> None:
    """Load or compile a function before it is needed, with a line on stderr if that takes long.

    Parameters
    ----------
    function : compiled function
        What is going to be called.
    call : callable
        Calls it so that it does nothing.
    """
    if getattr(function, "signatures", True):
        return
    timer = threading.Timer(PATIENCE, lambda: print(NOTICE, file=sys.stderr, flush=True))
    timer.daemon = True
    timer.start()
    try:
        call()
    except OSError:  # the cache can't be written after all, such as on a full disk
        from numba.core.caching import NullCache

        function._cache = NullCache()
        call()
    finally:
        timer.cancel()
