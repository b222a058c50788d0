"""The command line."""

from bedtide.cli.program import main

__all__ = ["main"]
