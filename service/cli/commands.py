"""The command line, `seamcost`: its commands, and how a fault is told."""

import logging
from typing import Any

import click

from service.cli.backing_up import backup
from service.cli.clear_faults import clear_faults
from service.cli.costs import costs
from service.cli.deliver import deliver
from service.cli.keys import keys
from service.cli.ledger_care import migrate, restore, verify
from service.cli.openapi import openapi
from service.cli.prices import prices
from service.cli.serve import serve


class Commands(click.Group):
    """The commands, each of which answers a fault with one sentence."""

    def invoke(self, ctx: click.Context) -> Any:
        if ctx.params.get("traceback"):
            return super().invoke(ctx)
        with clear_faults():
            return super().invoke(ctx)

    def list_commands(self, ctx: click.Context) -> list[str]:  # noqa: ARG002
        """In the order in which a newcomer meets them, not of the alphabet."""
        return list(self.commands)


@click.group(cls=Commands, context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 110})
@click.version_option(package_name="seamcost", prog_name="seamcost")
@click.option("--traceback", is_flag=True, help="Show where a fault comes from, for reports of defects.")
def main(traceback: bool) -> None:
    """What every cut, trim and dish costs, from the price of the primal.

    To look around, with an invented kitchen in a file in this folder:

    \b
        seamcost serve --demo

    To begin in earnest:

    \b
        seamcost migrate
        seamcost keys create "head chef" --scope admin
        seamcost serve

    Settings come from the environment (SEAMCOST_DATABASE_URL, SEAMCOST_HOST ...) and from the flags of the same
    names; a flag wins. Every command has its own --help.
    """
    del traceback  # read from the context, before any command runs
    logging.getLogger("alembic").setLevel(logging.WARNING)


for command in (serve, deliver, migrate, keys, costs, prices, openapi, backup, restore, verify):
    main.add_command(command)
