"""Run the command `strokeledger` as `python -m monitor`."""

from monitor.cli.main import main

main()
