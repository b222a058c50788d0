"""Run the command line as ``python -m bedtide``."""

from bedtide.cli import main

if __name__ == "__main__":
    main(prog_name="bedtide")
