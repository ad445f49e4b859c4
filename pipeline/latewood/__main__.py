"""Runs the command line as `python -m latewood`."""

from latewood.pipeline.cli.start import main

main()
