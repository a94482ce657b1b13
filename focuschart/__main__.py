"""Run the command line as `python -m focuschart`."""

from focuschart.cli import main

main()
