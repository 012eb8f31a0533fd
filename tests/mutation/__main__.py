"""Draw the changes, try them and print what was found."""

import argparse
import json
import os
import sys
from collections import defaultdict
from selectors import EVENT_READ, DefaultSelector

from tests.mutation import anew, trial
from tests.mutation.mutants import ROOT, Mutant, drawn, modules, stale_words, tried_of
from tests.mutation.sight import recorded

_STORED = ROOT / ".benchmarks" / "mutation.json"


def main() -> int:
    """Read the words of the command line and run; 1 when nothing could be tried."""
    parser = argparse.ArgumentParser(prog="python -m tests.mutation", description=__doc__)
    parser.add_argument("--module", action="append", default=[], help="only in this module (may be repeated)")
    parser.add_argument("--count", type=int, default=300, help="how many changes are tried")
    parser.add_argument("--seed", type=int, default=1, help="which ones are drawn")
    parser.add_argument("--jobs", type=int, default=1, help="how many at a time")
    parser.add_argument("--again", action="store_true", help="those that nothing found last time")
    options = parser.parse_args()
    os.environ |= {"QT_QPA_PLATFORM": "offscreen", "OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1"}
    os.nice(5)
    names = tuple(name for name in modules() if not options.module or name in options.module)
    if not names:
        print(f"There is no such module; there are: {', '.join(modules())}")
        return 1
    sight = _in_child(recorded)
    for words in stale_words(names):
        print(f"No longer a change, but listed in no_fault.py: {words}")
    anew.warm_up()
    chosen = _not_found(names) if options.again else drawn(names, options.count, options.seed)
    results = _try_all(chosen, sight, options.jobs)
    _print(results)
    _store(results, options.seed)
    return 0


def _in_child(work):
    """The result of work done in a fork, so that what it imports does not stay."""
    read, write = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(read)
        with os.fdopen(write, "w") as answer:
            json.dump(work(), answer)
        os._exit(0)
    os.close(write)
    with os.fdopen(read) as answer:
        made = answer.read()
    os.waitpid(child, 0)
    if not made:
        # It has said why.
        sys.exit(1)
    return json.loads(made)


def _try_all(mutants: list[Mutant], sight: dict, jobs: int) -> list[tuple[Mutant, str]]:
    """Those in living functions first, a share of them in each job; then the others, a module at a time."""
    done = _outcomes([mutants[job::jobs] for job in range(jobs)], trial.started, sight, jobs)
    again: defaultdict[str, list[Mutant]] = defaultdict(list)
    for mutant, outcome in done:
        if outcome == trial.ANEW:
            again[mutant.module].append(mutant)
    done = [each for each in done if each[1] != trial.ANEW]
    done += _outcomes([again[module] for module in sorted(again)], anew.started, sight, jobs)
    return sorted(done, key=lambda each: (each[0].module, each[0].number))


def _outcomes(portions: list[list[Mutant]], started, sight: dict, jobs: int) -> list[tuple[Mutant, str]]:
    """Each portion in a fork of its own, `jobs` of them at a time; a fork would not take threads along."""
    waiting = [portion for portion in portions if portion]
    done: list[tuple[Mutant, str]] = []
    running = DefaultSelector()
    while waiting or running.get_map():
        while waiting and len(running.get_map()) < jobs:
            portion = waiting.pop(0)
            running.register(started(portion, sight), EVENT_READ, portion)
        for key, _ in running.select():
            line = key.fileobj.readline()
            if not line:
                running.unregister(key.fileobj)
                key.fileobj.close()
                os.wait()
                continue
            place, outcome, seconds = json.loads(line)
            print(f"{seconds:5.1f} s  {key.data[place]}: {outcome}", flush=True)
            done.append((key.data[place], outcome))
    return done


def _print(results: list[tuple[Mutant, str]]) -> None:
    """A line a module, then what survived."""
    of_module: defaultdict[str, list[bool]] = defaultdict(list)
    for mutant, outcome in results:
        of_module[mutant.module].append(outcome.startswith("found"))
    print("\nfound of tried:")
    for module, found in sorted(of_module.items()):
        print(f"  {sum(found):4d} of {len(found):4d}  {module}")
    many = sum(sum(found) for found in of_module.values())
    print(f"  {many:4d} of {len(results):4d}  in all, {100 * many / max(len(results), 1):.1f} %")
    survivors = [(mutant, outcome) for mutant, outcome in results if not outcome.startswith("found")]
    if survivors:
        print("\nnot found:")
    for mutant, outcome in survivors:
        print(f"  {mutant}" + ("" if outcome == "survived" else f"  ({outcome})"))


def _not_found(names: tuple[str, ...]) -> list[Mutant]:
    """The changes that nothing found last time, as near their old place as their modules still have them."""
    found = []
    for row in json.loads(_STORED.read_text())["results"]:
        if row["module"] in names and not row.pop("outcome").startswith("found"):
            old = Mutant(**row)
            same = [each for each in tried_of(old.module) if each.words == old.words]
            found += sorted(same, key=lambda each: abs(each.number - old.number))[:1]
    return found


def _store(results: list[tuple[Mutant, str]], seed: int) -> None:
    _STORED.parent.mkdir(exist_ok=True)
    rows = [vars(mutant) | {"outcome": outcome} for mutant, outcome in results]
    _STORED.write_text(json.dumps({"seed": seed, "results": rows}, indent=1, ensure_ascii=False))


if __name__ == "__main__":
    sys.exit(main())
