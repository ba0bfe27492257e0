"""``python -m kerfwright``: the same as the ``kerfwright`` command."""

from kerfwright.app.command_line import main

if __name__ == "__main__":
    main()
