"""`python -m daemon` is the `stokehand` command.

`make-safe` goes by a door of its own: it must not wait for what the other commands import.
"""

import sys


def main() -> None:
    """The entry point."""
    match sys.argv[1:]:
        case ["make-safe"]:
            from daemon.command.off import DEFAULT_CONFIG, make_safe

            sys.exit(make_safe(DEFAULT_CONFIG))
        case ["make-safe", "--config", config]:
            from daemon.command.off import make_safe

            sys.exit(make_safe(config))
        case _:
            from daemon.command.cli import main as command

            command()


if __name__ == "__main__":
    main()
