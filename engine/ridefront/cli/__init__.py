"""The command. One thin file a verb: parse, call one function, print; a verb is imported when it is called.

Exit status: 0 done; 1 a run failed; 2 the call or a file is wrong; 3 done, but no design meets the constraints or
requirements; 130 and 143 interrupted by Ctrl-C or SIGTERM, resumable.
"""

from __future__ import annotations

import signal
import sys
from importlib import import_module
from types import FrameType

import click

from ridefront.errors import CallError, ResultError, RidefrontError, StudyError, Terminated

_VERBS = {
    "run": "Run studies; go on where an earlier run stopped.",
    "check": "Find every mistake in studies; show design space, conditions and the vehicle at rest.",
    "evaluate": "Work out given designs.",
    "choose": "Pick setups from a front by weights, limits or the present setup, and say why; in catalogue parts.",
    "report": "Make a page of figures and tables from results: what a softer ride costs, travel left, dampers, rides.",
    "trace": "Drive setups over a road: histories of travel, forces and accelerations, as tables or strip charts.",
    "road": "Show how rough a measured road is: class of ISO 8608, waviness, International Roughness Index.",
}


class _Verbs(click.Group):
    """Loads a verb's file when the verb is called, so that --help is there at once."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(_VERBS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in _VERBS:
            return None
        command: click.Command = import_module(f"ridefront.cli.{cmd_name}").command
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        with formatter.section("Verbs"):
            formatter.write_dl(list(_VERBS.items()))

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        if args and args[0] not in _VERBS:
            raise click.UsageError(f"no verb {args[0]!r}; the verbs are {', '.join(_VERBS)}", ctx)
        return super().resolve_command(ctx, args)


def _on_sigterm(number: int, frame: FrameType | None) -> None:
    raise Terminated


@click.group(cls=_Verbs, context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 110})
@click.version_option(package_name="ridefront", message="%(package)s %(version)s")
def ridefront() -> None:
    """Explore suspension setups: comfort against road holding and rattle space, from a study file to a front.

    A computed setup is a starting point: prove it on a rig and a closed course.
    """


def main() -> None:
    """Entry point: run the command, and turn what Ridefront raises on purpose into a message and an exit status."""
    signal.signal(signal.SIGTERM, _on_sigterm)
    try:
        status = ridefront.main(standalone_mode=False)
    except click.ClickException as error:
        error.show()
        sys.exit(error.exit_code)
    except (click.Abort, KeyboardInterrupt) as error:
        terminated = isinstance(error, Terminated) or isinstance(error.__context__, Terminated)
        click.echo("interrupted" + ("; the same call goes on from here" if sys.argv[1:2] == ["run"] else ""), err=True)
        sys.exit(143 if terminated else 130)
    except (StudyError, CallError) as error:
        click.echo(str(error), err=True)
        sys.exit(2)
    except RidefrontError as error:
        click.echo(str(error), err=True)
        sys.exit(1 if isinstance(error, ResultError) else 2)
    sys.exit(status if isinstance(status, int) else 0)
