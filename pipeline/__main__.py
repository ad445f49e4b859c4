"""Runs the command line as `python -m pipeline`."""

from pipeline.cli import main

main()
