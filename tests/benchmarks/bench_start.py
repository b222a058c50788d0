"""Fresh processes: what a person waits for."""

from __future__ import annotations

import subprocess
import sys


def _run(*words: str) -> None:
    subprocess.run([sys.executable, *words], check=True, capture_output=True)


class Start:
    """Target: a whole `bedtide season` on one season in under 3 s."""

    def time_import(self) -> None:
        """The bare package."""
        _run("-c", "import bedtide")

    def time_help(self) -> None:
        """The program without work."""
        _run("-m", "bedtide", "--help")

    def time_season(self) -> None:
        """The built-in example, from the files to the printed answer."""
        _run("-m", "bedtide", "season")
