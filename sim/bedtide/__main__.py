"""Start the program, as ``bedtide`` or as ``python -m bedtide``."""

import sys


def main() -> None:
    """Run the command line; who stops it while it is still being loaded is told so too."""
    try:
        from bedtide.cli import main as program

        program(prog_name="bedtide")
    except KeyboardInterrupt:
        sys.stderr.write("Stopped. Nothing was left half written.\n")
        sys.exit(130)


if __name__ == "__main__":
    main()
