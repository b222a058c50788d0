"""How the step is compiled, where that is kept, and that it is said while it happens."""

from __future__ import annotations

import sys
import threading
from collections.abc import Callable
from contextlib import suppress
from typing import Any

from numba import njit

__all__ = ["cached", "compiled", "inlined", "prepared"]

NOTICE = "Preparing the calculation; this happens once and takes some ten seconds ..."

compiled: Callable[[Any], Any] = njit(error_model="numpy", nogil=True)
"""Compile a function of the step; division by zero gives infinity, as in numpy."""

inlined: Callable[[Any], Any] = njit(error_model="numpy", inline="always")
"""Compile a small one into those that call it."""


def cached(function: Any) -> Any:
    """Keep what was compiled: beside the package, or else in the user's own cache folder.

    Where neither can be written it is compiled anew in each process.
    """
    with suppress(RuntimeError, OSError):
        function.enable_caching()
    return function


def prepared(function: Any, call: Callable[[], Any]) -> None:
    """Load or compile a function before it is needed, with a line on stderr if that takes long.

    Parameters
    ----------
    function : compiled function
        What is going to be called.
    call : callable
        Calls it so that it does nothing.
    """
    if function.signatures:
        return
    timer = threading.Timer(1.0, lambda: print(NOTICE, file=sys.stderr, flush=True))
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
