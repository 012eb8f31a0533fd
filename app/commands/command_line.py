"""The command line: every figure without a display."""

import argparse
import os
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import NoReturn

from app.commands.terminal import BAD_INPUT, DONE, prepare, say, say_json
from core.model.values.errors import CopperError, DesignError, FileError

_COMMANDS = (
    "sheet",
    "board",
    "report",
    "survey",
    "new",
    "response",
    "netlist",
    "crystals",
    "log",
    "vfo",
    "schema",
    "screens",
)


class _Parser(argparse.ArgumentParser):
    """Says what is wrong in one sentence instead of printing the usage."""

    def error(self, message: str) -> NoReturn:
        raise DesignError(f"{message[:1].upper()}{message[1:]}; “{self.prog} --help” tells what can be said.")


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command; returns the exit code: 0 done, 1 faults found with --strict, 2 bad input."""
    words = list(sys.argv[1:] if arguments is None else arguments)
    prepare()
    try:
        if words and words[0] in _COMMANDS:
            options = _command_parser().parse_args(words)
            return int(options.run(options))
        return _open_window(_window_parser().parse_args(words))
    except CopperError as error:
        print(f"copperclad: {error}", file=sys.stderr)
        return BAD_INPUT
    except BrokenPipeError:
        # The reader of our output has gone; leave quietly, without a second complaint at exit.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return DONE
    except KeyboardInterrupt:
        return 130


def _window_parser() -> argparse.ArgumentParser:
    parser = _Parser(
        prog="copperclad",
        description="Design, compute, document and bring up a home-built single-conversion SSB transceiver.",
        epilog=f"Commands, each with a --help of its own: {', '.join(_COMMANDS)}.",
    )
    parser.add_argument("project", nargs="?", type=Path, help="project file to open; without one, the sample")
    return parser


def _command_parser() -> argparse.ArgumentParser:
    from app.commands import (
        board_command,
        circuit_command,
        crystal_command,
        log_command,
        paper_command,
        plan_command,
    )

    parser = _Parser(prog="copperclad")
    commands = parser.add_subparsers(dest="command", required=True, parser_class=_Parser)

    for family in (
        paper_command,
        plan_command,
        circuit_command,
        crystal_command,
        board_command,
        log_command,
    ):
        family.add(commands)

    schema = commands.add_parser("schema", help="print the JSON Schema of project files")
    schema.set_defaults(run=_schema)

    screens = commands.add_parser("screens", help="render every view to PNG, light and dark")
    screens.add_argument("project", type=Path)
    screens.add_argument("folder", type=Path, metavar="OUT_DIR")
    screens.set_defaults(run=_screens)
    return parser


def _open_window(options: argparse.Namespace) -> int:
    import gc

    # What is imported from here on stays for good; collecting amid it costs a fifteenth of the start.
    gc.disable()
    from app.commands.start_up import problem_with_display
    from core.model.files import load
    from core.model.samples import sample_path

    # The file first: a wrong name deserves its own sentence, display or not.
    project = load(options.project or sample_path())
    problem = problem_with_display()
    if problem is not None:
        raise FileError(problem)
    # What computes before what shows: once Qt is imported, it reads the source of everything imported later.
    import core.rig.analysis  # noqa: F401
    from app.window.start import open_window

    # The sample is opened without its file, so that Save asks for a name and leaves the sample as it is.
    return open_window(project, options.project and options.project.absolute())


def _schema(options: argparse.Namespace) -> int:
    from core.model.project import Project

    say_json(Project.model_json_schema())
    return DONE


def _screens(options: argparse.Namespace) -> int:
    from app.commands.start_up import missing_library
    from core.model.files import load

    project = load(options.project)
    problem = missing_library()
    if problem is not None:
        raise FileError(problem)
    from app.commands.screens import render

    for file in render(project, options.folder):
        say(str(file))
    return DONE
