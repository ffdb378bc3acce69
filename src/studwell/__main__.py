"""Run the command line, as `studwell` or `python -m studwell`; Ctrl-C is answered in one line while modules still load."""

from __future__ import annotations

import os
import signal

TYPE_CHECKING = False  # as in the package: typing would load longer than all else
if TYPE_CHECKING:
    from types import FrameType
    from typing import Never


def main() -> None:
    """Load the command line and run it."""
    before = signal.getsignal(signal.SIGINT)
    loading = before is signal.default_int_handler  # a shell's background job ignores Ctrl-C, and keeps doing so
    if loading:
        signal.signal(signal.SIGINT, _stop)
    from studwell import cli

    if loading:
        signal.signal(signal.SIGINT, before)
    try:
        cli.main()
    except SystemExit as ended:
        if (
            ended.code == 130
        ):  # one more Ctrl-C would end the interpreter's own end with the signal in place of the status
            signal.signal(signal.SIGINT, signal.SIG_IGN)
        raise
    finally:
        # Ctrl-C that falls into the eval of a text, as of type hints, is remembered by Python, which under -m then ends with
        # the signal in place of the status; the next eval makes it forget
        eval("None")


def _stop(number: int, frame: FrameType | None) -> Never:
    # an exception would be lost where it falls into a callback of the import system; nothing is open yet that needs closing
    os.write(2, b"studwell: stopped\n")
    os._exit(130)


if __name__ == "__main__":
    main()
