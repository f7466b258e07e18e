"""The command line: takes arguments, calls the stages, and renders their results once.

Each module of this folder holds one click command of its own name (`explain.py` has `explain`), and is imported
when that command is asked for. The folder knows every stage; no stage knows the command line. Errors of the
family `TopoError` are printed to standard error and give exit status 1 (the circuit has problems) or 2 (wrong use).
"""

from __future__ import annotations

import gc
import os
import pkgutil
import sys
from importlib import import_module

import click

from topo.errors import TopoError, UsageError, printable

# The matrices of a circuit are small: threads of the linear algebra would cost more than they give.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
# A run keeps most of what it makes, and little of it in cycles: looking for them often costs a tenth of a cold start.
gc.set_threshold(50_000, 20, 100)


class CommandFolder(click.Group):
    """A group whose commands are the modules of this folder."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return sorted(name for name in _module_names() if self.get_command(ctx, name) is not None)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in _module_names():
            return None
        found = getattr(import_module(f"topo.cli.{cmd_name}"), cmd_name, None)
        return found if isinstance(found, click.Command) else None

    def resolve_command(self, ctx: click.Context, args: list[str]):
        """The command that the first argument names; a name that is none is told with what is like it."""
        if args and not args[0].startswith("-") and self.get_command(ctx, args[0]) is None:
            near = _near(args[0], self.list_commands(ctx))
            hint = f" Did you mean {near}?" if near else ""
            raise click.UsageError(f"There is no command {args[0]!r}.{hint}", ctx)
        return super().resolve_command(ctx, args)

    def invoke(self, ctx: click.Context):
        try:
            return super().invoke(ctx)
        except TopoError as error:
            _complain(str(error))
            ctx.exit(error.exit_status)
        except (click.ClickException, click.exceptions.Exit, click.Abort, BrokenPipeError):
            raise
        except OSError as error:
            _complain(f"{error.filename or 'file'}: {(error.strerror or str(error)).lower()}")
            ctx.exit(UsageError.exit_status)
        except RecursionError:
            _complain("The input is nested too deeply.")
            ctx.exit(TopoError.exit_status)
        except Exception as error:
            if os.environ.get("TOPO_DEBUG"):
                raise
            _complain(_internal(error))
            ctx.exit(TopoError.exit_status)


def _module_names() -> list[str]:
    return [item.name for item in pkgutil.iter_modules(__path__) if not item.name.startswith("_")]


def _near(word: str, names: list[str]) -> str:
    """The command name that is most like a word, or ""."""
    from difflib import get_close_matches

    return next(iter(get_close_matches(word, names, 1)), "")


def _complain(text: str) -> None:
    """A message on standard error, in which no name that was typed can steer the terminal."""
    click.echo(printable(text), err=True)


def _internal(error: Exception) -> str:
    """One short paragraph on a fault of the tool itself: what, where, and what to do."""
    trace = error.__traceback__
    while trace is not None and trace.tb_next is not None:
        trace = trace.tb_next
    where = ""
    if trace is not None:
        where = f" in {os.path.basename(trace.tb_frame.f_code.co_filename)}, line {trace.tb_lineno}"
    return (
        f"Internal error: {type(error).__name__}: {error}{where}.\n"
        "This is a fault of topo, not of the circuit. Please report it together with the circuit file.\n"
        "TOPO_DEBUG=1 shows where it happened."
    )


def _show_version(ctx: click.Context, _: click.Parameter, wanted: bool) -> None:
    if wanted and not ctx.resilient_parsing:
        from importlib.metadata import PackageNotFoundError, version

        try:
            click.echo(f"topo {version('topo')}")
        except PackageNotFoundError:
            click.echo("topo, not installed: run from its sources")
        ctx.exit()


@click.group(cls=CommandFolder, context_settings={"help_option_names": ["-h", "--help"]})
@click.option(
    "--version",
    is_flag=True,
    is_eager=True,
    expose_value=False,
    callback=_show_version,
    help="Show the version and exit.",
)
def main() -> None:
    """Make sense of an amplifier schematic.

    topo reads a plain-text netlist, recognises the sub-circuits in it, computes them,
    leaves out what does not matter, and explains what is left. A FILE of - is standard input.
    """
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(encoding="utf-8", errors="replace")
