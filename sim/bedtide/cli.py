"""The command group, and the one place that turns errors into messages and exit statuses."""

from __future__ import annotations

import errno
import importlib
import pkgutil
import sys
import traceback
from typing import Any, NoReturn

import click

from bedtide import __version__, answers
from bedtide.errors import BedtideError, InputError
from bedtide.report.options import typed

_INPUT, _BUG, _INTERRUPTED = 2, 1, 130


class _Program(click.Group):
    """A group that ends with 2 for a mistake in the input, 1 for a bug, 130 for an interruption."""

    def main(self, *args: Any, **keywords: Any) -> Any:
        """Run the program; what prints may be cut off or have no room. Click ends the former."""
        try:
            return super().main(*args, **keywords)
        except OSError as error:
            if not _of_output(error):
                raise
            click.echo(f"The output could not be written: {error.strerror}.", err=True)
            sys.exit(_INPUT)

    def invoke(self, ctx: click.Context) -> Any:
        """Run the command; whatever goes wrong becomes a message and an exit status."""
        try:
            return super().invoke(ctx)
        except (click.ClickException, click.exceptions.Exit):
            raise
        except InputError as error:
            _end(error.told(typed), _INPUT)
        except BedtideError as error:
            _end(
                f"{error}\nThis is a mistake in bedtide, not in what you gave it. Please report it "
                "with the bed description and the weather file.",
                _BUG,
            )
        except (KeyboardInterrupt, click.Abort):
            _end("Stopped. Nothing was left half written.", _INTERRUPTED)
        except Exception as error:
            if _of_output(error):
                raise
            traceback.print_exc()
            _end(
                "This is a bug in bedtide. Please report it with the lines above, the bed "
                "description and the weather file.",
                _BUG,
            )


def _of_output(error: Exception) -> bool:
    """Whether it is about what is printed: files are named by their errors, a pipe is not."""
    return (
        isinstance(error, OSError)
        and error.filename is None
        and error.errno in (errno.EPIPE, errno.ENOSPC, errno.EIO)
    )


def _end(message: str, status: int) -> NoReturn:
    click.echo(message, err=True)
    raise click.exceptions.Exit(status)


@click.group(cls=_Program, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="bedtide", message="%(prog)s %(version)s")
def main() -> None:
    """Work out how a sub-irrigated raised bed behaves in your own weather.

    Start with  bedtide season : it runs a built-in example. Then  bedtide new FOLDER  writes a
    bed description to change into yours.
    """


# Every click command at the top of an answers/*/command.py is a command of the program.
for _folder in pkgutil.iter_modules(answers.__path__):
    _module = importlib.import_module(f"{answers.__name__}.{_folder.name}.command")
    for _command in vars(_module).values():
        if isinstance(_command, click.Command):
            main.add_command(_command)
