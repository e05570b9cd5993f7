"""Does every command say the same of one bowl?

Question: twelve ordinary bowls (those of ``studies/05_ordinary_bowls.py``) and the practice bowl are asked
through every command: does each have the state, the rise, the chance of splitting and the press that
``fit`` has, and does ``fit`` lock at the tilt that ``tilt`` calls best?

Method: commands are asked on the command line and their answers laid beside that of ``fit``
(``tests/one_answer.py``). Run it with ``python studies/06_one_answer.py``: some minutes a bowl. Words
behind it choose commands and bowls: ``python studies/06_one_answer.py sweep map cherry``. It ends with
status 1 where anything differs.
"""

import argparse
import importlib.util
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

HERE = Path(__file__).parent


def _loaded(file: Path) -> Any:
    """A module that lies beside the package, whatever its name."""
    spec = importlib.util.spec_from_file_location(file.stem.lstrip("0123456789_"), file)
    if spec is None or spec.loader is None:
        raise FileNotFoundError(file)
    module = importlib.util.module_from_spec(spec)
    sys.modules[module.__name__] = module
    spec.loader.exec_module(module)
    return module


def _bowls() -> dict[str, Any]:
    """The twelve bowls, and the practice bowl."""
    ordinary = _loaded(HERE / "05_ordinary_bowls.py")
    return {**ordinary.ORDINARY, "practice bowl, 5 deg": ordinary.practice("5 deg", kerf="0.8 mm")}


def main(words: list[str]) -> int:
    """Ask, and print what differs, bowl by bowl; how many answers differ."""
    one = _loaded(HERE.parent / "tests" / "one_answer.py")
    commands = [name for name in one.COMMANDS if name in words] or list(one.COMMANDS)
    wanted = [word for word in words if word not in one.COMMANDS]
    differ = 0
    for name, tables in _bowls().items():
        if wanted and not any(word in name for word in wanted):
            continue
        with tempfile.TemporaryDirectory() as folder:
            begun = time.process_time()
            bowl = one.asked(name, tables, Path(folder))
            print(f"{name}: {bowl.fit['verdict_told']} ({time.process_time() - begun:.1f} s)", flush=True)
            for command in commands:
                begun = time.process_time()
                try:
                    found = one.COMMANDS[command](bowl)
                except one.RefusedError as refused:
                    found = [f"refused: {refused}"]
                differ += bool(found)
                spent = time.process_time() - begun
                print(f"  {command} ({spent:.1f} s): {'; '.join(found) or 'the same'}", flush=True)
    print(f"{differ} answers differ")
    return differ


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    parser.add_argument("words", nargs="*", help="commands, and parts of bowls' names (all)")
    sys.exit(1 if main(parser.parse_args().words) else 0)
