"""The `reach` command: finds a subcommand by name and loads only that one, so that help is quick."""

from __future__ import annotations

import difflib
import importlib
import sys

import click

from reach import __version__
from reach.errors import ReachError

# name -> one-line help, in the order shown; the module reach.commands.<name> holds `command`
COMMANDS = {
    "demo": "Plan an invented club on invented terrain: see everything at once.",
    "new": "Start a net folder that runs as it is, ready to be made yours.",
    "check": "Read a net folder, list every fault, the defaults used, the tiles needed.",
    "columns": "Every column of roster.csv and key of net.toml, with what to write.",
    "tiles": "Fetch the elevation a net lacks from an open data set, when asked.",
    "repeater": "Who gets into the repeater, who only hears it, who does neither.",
    "simplex": "Who hears whom radio to radio, tonight's net control, and the relays.",
    "path": "One path in full: profile, clearance, loss, both directions.",
    "relays": "The fewest relays, who steps in for whom, and what a change would change.",
    "control": "Who should be net control, and a rota of the coming nets for the calendar.",
    "sheet": "The page to run the net from: what to say, whom to call, who relays.",
    "area": "From where a chosen kind of station gets in: a map for every cell.",
    "backup": "Repeater down, mains lost: how the net goes on, and what each single loss costs.",
    "sites": "Where to put a portable relay, and where a cut-off member can drive to.",
    "exercise": "Random failures, round by round, for the club to rehearse.",
    "kit": "A printed page for each operator: where to go and whom to call in which case.",
}


class LazyCommands(click.Group):
    """A group that imports a subcommand's module only when it is used."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, name: str) -> click.Command | None:
        if name not in COMMANDS:
            return None
        command = importlib.import_module(f"reach.commands.{name}").command
        assert isinstance(command, click.Command)
        return command

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        if args and not args[0].startswith("-") and args[0] not in COMMANDS:
            near = difflib.get_close_matches(args[0].lower(), COMMANDS, n=1, cutoff=0.6)
            fix = f"did you mean {near[0]}?" if near else f"there are {', '.join(COMMANDS)}"
            ctx.fail(f'No such command "{args[0]}"; {fix}')
        return super().resolve_command(ctx, args)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        with formatter.section("Commands"):
            formatter.write_dl(list(COMMANDS.items()))


@click.group(
    cls=LazyCommands, context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100}
)
@click.version_option(__version__, prog_name="reach")
def reach() -> None:
    """Plan a radio club's voice nets from terrain.

    FOLDER is a net folder: net.toml, roster.csv and elevation tiles. A prediction is no promise: test on
    the air before you rely on it. In danger call the emergency number first.
    """


def main() -> None:
    """Entry point: a purposeful error is one clear message and exit code 2; Ctrl-C is 130."""
    try:
        status = reach(standalone_mode=False)
    except click.exceptions.Abort:
        click.echo("stopped; nothing half-written is left.", err=True)
        sys.exit(130)
    except click.exceptions.Exit as stop:
        sys.exit(stop.exit_code)
    except click.ClickException as error:
        error.show()
        sys.exit(2)
    except ReachError as error:
        click.echo(str(error), err=True)
        sys.exit(2)
    except KeyboardInterrupt:
        click.echo("stopped; nothing half-written is left.", err=True)
        sys.exit(130)
    except BrokenPipeError:
        sys.stderr.close()
        sys.exit(0)
    sys.exit(status if isinstance(status, int) else 0)


if __name__ == "__main__":
    main()
