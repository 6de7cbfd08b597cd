"""`python -m daemon` is the `stokehand` command."""

from daemon.cli import main

main()
