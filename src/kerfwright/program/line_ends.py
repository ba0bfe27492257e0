"""Line ends that a machine does not take."""

import re

import numpy as np

from kerfwright.kernels.program_lines import count_lines
from kerfwright.program.dialect import LineEnds
from kerfwright.program.problem import Fault

_OTHERS = {
    "LF": re.compile(rb"\r\n?"),
    "CR LF": re.compile(rb"\r(?!\n)|(?<!\r)\n"),
    "CR": re.compile(rb"\r?\n"),
}
_SHOWN = {b"\n": "LF", b"\r\n": "CR LF", b"\r": "CR"}


def wrong_line_end(text: bytes, taken: LineEnds) -> Fault | None:
    """The fault of a file with line ends other than those ``taken``, which tells the first one."""
    found = _OTHERS[taken].search(text) if taken != "any" else None
    if found is None:
        return None
    line = count_lines(np.frombuffer(text, np.uint8), 0, found.start()) + 1
    return Fault(
        "line_end",
        1,
        f"line {line} ends with {_SHOWN[found[0]]}, and this machine takes {taken} alone",
        f'save the file with line ends {taken}, or write line_ends = "any" under [controller] in'
        " machine.toml if the machine takes it after all",
    )
