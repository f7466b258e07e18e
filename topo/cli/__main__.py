"""Runs the command line: `python -m topo.cli`."""

from topo.cli import main

if __name__ == "__main__":
    main(prog_name="topo")
