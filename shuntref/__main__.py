"""``python -m shuntref`` is the command line."""

from shuntref.cli import main

main()
