"""One thread for small linear algebra: while a strip is pressed, and in processes of our own."""

import os
import subprocess
import sys

import numpy as np
import pytest
from threadpoolctl import ThreadpoolController

from fitsim.one_thread import one_thread


def threads() -> set[int]:
    """Threads that the linear algebra libraries may use now."""
    libraries = ThreadpoolController().info()
    return {library["num_threads"] for library in libraries if library["user_api"] == "blas"}


@pytest.mark.skipif((os.cpu_count() or 1) < 2, reason="one processor has one thread in any case")
def test_the_number_of_threads_is_given_back() -> None:
    """Inside there is one thread, afterwards as many as before, also where the work failed."""
    np.linalg.solve(np.eye(3), np.ones(3))

    @one_thread
    def work(fails: bool) -> set[int]:
        if fails:
            raise ValueError("failed")
        return threads()

    with ThreadpoolController().limit(limits=2, user_api="blas"):
        assert work(False) == {1}
        assert threads() == {2}
        with pytest.raises(ValueError, match="failed"):
            work(True)
        assert threads() == {2}


ASKED = """
from threadpoolctl import ThreadpoolController
from click.testing import CliRunner
from fitsim.cli import main
print(CliRunner().invoke(main, ["woods"]).exit_code)
print({entry["num_threads"] for entry in ThreadpoolController().info() if entry["user_api"] == "blas"})
"""


def test_the_command_line_keeps_to_one_thread() -> None:
    """A command uses one thread whatever the environment leaves open."""
    left_open = {key: value for key, value in os.environ.items() if not key.endswith("_NUM_THREADS")}
    run = subprocess.run(
        [sys.executable, "-c", ASKED], env=left_open, capture_output=True, text=True, check=True
    )
    assert run.stdout.split("\n")[:2] == ["0", "{1}"]
