"""`python -m tidegate` and the console command."""

import sys


def main() -> None:
    """Run the command line. Ends the process with one of the exit codes of `cli.exit_codes`."""
    if sys.argv[1:] in ([], ["--help"], ["-h"]):
        # Asked most often of all, and the same each time: kept as text, so that nothing has to be imported for it.
        # A test holds the text equal to what the command line itself would say.
        from pathlib import Path

        sys.stdout.write((Path(__file__).with_name("cli") / "help.txt").read_text("utf-8"))
        return
    from tidegate.cli.main import run

    run()


if __name__ == "__main__":
    main()
