"""bedtide cautions: what can hurt someone."""

from __future__ import annotations

import click

from bedtide.tables import cautions_text

__all__ = ["cautions"]


@click.command(short_help="What can hurt someone.")
def cautions() -> None:
    """What to take care of: weight, standing water, hoses, liners, timber, children, frost."""
    click.echo(cautions_text(), nl=False)
