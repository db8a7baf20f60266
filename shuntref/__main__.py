"""``python -m shuntref`` is the command line."""

from shuntref.cli import main

if __name__ == "__main__":  # worker processes import this module under another name
    main()
