"""Plain text tables that line up in any terminal and in a pasted mail."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence

GAP = "  "
WIDTH = 78  # fits the narrowest terminal in common use
_BOUND = "\N{NO-BREAK SPACE}%"  # a number and its sign stay on one line


def table(header: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    """Lay out rows under a header, if it has words; the first column stands left, others right."""
    lines = [header, *rows] if any(header) else [*rows]
    widths = [max(len(line[i]) for line in lines) for i in range(len(header))]
    return "\n".join(_row(line, widths) for line in lines)


def wrapped(text: str, *, lead: str = "  ", split_words: bool = True) -> str:
    """Break a sentence into lines that begin with ``lead`` (its first line) and blanks.

    Args:
        text: the sentence.
        lead: what its first line begins with.
        split_words: break what is longer than a line; not a path, which is to be copied.
    """
    filled = textwrap.fill(
        text.replace(" %", _BOUND),
        WIDTH,
        initial_indent=lead,
        subsequent_indent=" " * len(lead),
        break_on_hyphens=False,
        break_long_words=split_words,
    )
    return filled.replace(_BOUND, " %")


def _row(cells: Sequence[str], widths: Sequence[int]) -> str:
    first = cells[0].ljust(widths[0])
    rest = (cell.rjust(width) for cell, width in zip(cells[1:], widths[1:], strict=True))
    return GAP.join(("  " + first, *rest)).rstrip()
