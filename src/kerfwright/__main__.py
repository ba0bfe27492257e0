"""``kerfwright`` and ``python -m kerfwright``: light, so that Ctrl-C is heard while it loads."""

import signal
import sys
from types import FrameType

STOPPED_BY_THE_PERSON = 130


def main() -> None:
    """Run the command line."""
    heard = []

    def hear(number: int, frame: FrameType | None) -> None:
        heard.append(number)
        signal.default_int_handler(number, frame)

    signal.signal(signal.SIGINT, hear)
    try:
        from kerfwright.app import early

        early.begin(sys.argv[1:])
        try:
            from kerfwright.app.command_line import main as run

            run()
        finally:
            early.end()
    except (KeyboardInterrupt, Exception):
        # A library that is stopped while it loads tells it as a failure of its own.
        if not heard:
            raise
        print("stopped; nothing was written", file=sys.stderr)
        raise SystemExit(STOPPED_BY_THE_PERSON) from None


if __name__ == "__main__":
    main()
