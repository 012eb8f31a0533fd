"""Run one soak and print its counts; the exit code is 1 when anything but the fine outcomes came."""

import argparse
import os
import sys
import time
from collections import Counter, defaultdict
from importlib import import_module
from pathlib import Path

#: Ways to see the same outcome again that are listed.
_LISTED = 5
#: How far it has come is told so often, seconds.
_TOLD_S = 60.0
_NOT_SOAKS = ("__init__", "__main__", "outcome")


def soaks() -> tuple[str, ...]:
    """Names of the soaks there are."""
    return tuple(sorted(f.stem for f in Path(__file__).parent.glob("*.py") if f.stem not in _NOT_SOAKS))


def main() -> int:
    """Read the words of the command line and run."""
    os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
    parser = argparse.ArgumentParser(prog="python -m tests.soak", description=__doc__)
    commands = parser.add_subparsers(dest="soak", required=True)
    for name in soaks():
        module = import_module(f"tests.soak.{name}")
        command = commands.add_parser(name, help=(module.__doc__ or "").partition("\n")[0])
        command.add_argument("--count", type=int, default=1000, help="how many are tried")
        command.add_argument("--seed", type=int, default=1, help="where the chances begin")
        command.add_argument("--seconds", type=float, default=4 * 3600.0, help="stop after so long")
    options = parser.parse_args()
    module = import_module(f"tests.soak.{options.soak}")
    return run(module, options.count, options.seed, options.seconds)


def run(module, count: int, seed: int, seconds: float) -> int:
    """Try `count` cases of a soak, print how often each outcome came; 1 when one was not fine."""
    counts: Counter[str] = Counter()
    again: defaultdict[str, list[str]] = defaultdict(list)
    start = told = time.monotonic()
    for outcome in module.cases(count, seed):
        counts[outcome.what] += 1
        if outcome.what not in module.FINE and len(again[outcome.what]) < _LISTED:
            again[outcome.what].append(outcome.again)
        now = time.monotonic()
        if now - told > _TOLD_S:
            told = now
            print(f"{counts.total()} of {count}, {now - start:.0f} s", file=sys.stderr, flush=True)
        if now - start > seconds:
            print(f"Stopped after {seconds:g} s.")
            break
    print(f"{counts.total()} of {count} tried, seed {seed}, in {time.monotonic() - start:.0f} s:")
    for what, many in counts.most_common():
        print(f"  {many:7d}  {what}")
    for what, ways in again.items():
        print(f"NOT FINE: {what}")
        for way in ways:
            print(f"    again: {way}")
    return 1 if again else 0


if __name__ == "__main__":
    sys.exit(main())
