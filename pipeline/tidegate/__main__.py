"""`python -m tidegate` and the console command."""

from __future__ import annotations


def main() -> None:
    """Run the command line. Ends the process with one of the exit codes of `cli.exit_codes`."""
    from tidegate.cli.main import run

    run()


if __name__ == "__main__":
    main()
