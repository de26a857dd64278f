"""A gauge that sends on its button: each frame is a reading, a double send is one."""

from __future__ import annotations

from gaugelink.model import Reading

REPEAT_S = 0.3  # contact bounce and double sends come within this; two presses do not


class RepeatFilter:
    """Recognises a frame that only repeats the one before.

    Equal digits within ``REPEAT_S`` are one press. The window restarts with each
    repeat, so that a button held down stays one press.
    """

    def __init__(self) -> None:
        self._displayed = ""
        self._last_s: float | None = None

    def is_repeat(self, elapsed_s: float, reading: Reading) -> bool:
        """Take a frame; tell whether it repeats the last one."""
        repeat = (
            self._last_s is not None
            and elapsed_s - self._last_s <= REPEAT_S
            and reading.displayed == self._displayed
        )
        self._displayed, self._last_s = reading.displayed, elapsed_s
        return repeat
