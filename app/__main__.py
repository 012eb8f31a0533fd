"""`python -m app` and the command `copperclad`."""

import sys


def main() -> None:
    """Run the command line and leave with its exit code."""
    from app.commands.command_line import main as run

    sys.exit(run())


if __name__ == "__main__":
    main()
