"""Runs the command line as `python -m latewood`."""

from latewood.pipeline.cli.main import main

main()
