"""`python -m daemon` is the `stokehand` command.

What the units run goes by doors of its own, so that a small board needn't import what the other commands want.
"""

import sys


def main() -> None:
    """The entry point."""
    match sys.argv[1:]:
        case ["make-safe", "--config", config]:
            from daemon.command.off import make_safe

            sys.exit(make_safe(config))
        case ["tend", "--config", config]:
            import gc

            gc.disable()  # until all is imported and set up: nothing of that goes away
            from pathlib import Path

            from daemon.command.tend import tend_by_file

            sys.exit(tend_by_file(Path(config), plan=""))
        case _:
            from daemon.command.cli import main as command

            command()


if __name__ == "__main__":
    main()
