"""Run the command line with ``python -m fitsim``."""

from fitsim.cli import main

if __name__ == "__main__":
    main(prog_name="fitsim")
