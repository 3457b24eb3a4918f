"""Runs the command line with `python -m api`."""

from api.cli.main import main

if __name__ == "__main__":
    main()
