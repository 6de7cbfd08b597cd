"""`python -m daemon` is the `stokehand` command."""

from daemon.command.cli import main

main()
