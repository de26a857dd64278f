"""From keys or piped bytes to whole lines.

A number collects until Enter or Tab, because a keyboard-type gauge types as a person
does. A letter on an empty line is a command and is handed on at once, so that a
person with full hands need press one key only.
"""

from __future__ import annotations

BACKSPACE = b"\x08\x7f"
END_OF_LINE = b"\r\n\t"
END_OF_INPUT = 0x04  # Ctrl-D
KILL_LINE = 0x15  # Ctrl-U
ESCAPE = 0x1B
RUB_OUT = b"\x08 \x08"

MAX_LINE_BYTES = 200  # no number is longer; a key held down must not fill the memory


class KeyEditor:
    """Collects keys into lines; pure, so that every terminal can share it.

    After each ``feed``, ``echo`` holds what the terminal should show for it.
    ``ended`` is true once Ctrl-D was pressed.
    """

    def __init__(self) -> None:
        self.echo = b""
        self.ended = False
        self._line = bytearray()
        self._escaped = b""

    def feed(self, keys: bytes) -> bytes:
        """Take keys; return the lines they complete, each ending in a line feed."""
        self.echo = b""
        return b"".join(self._key(key) for key in keys)

    def finish(self) -> bytes:
        """The terminal was closed: a number that is half typed is no reading."""
        return b""

    def _key(self, key: int) -> bytes:
        if key == ESCAPE:
            self._escaped = b"\x1b"
        elif self._escaped and self._in_sequence(key):
            pass
        elif key in END_OF_LINE:
            return self._finish()
        elif key in BACKSPACE:
            self._rub_out(1)
        elif key == KILL_LINE:
            self._rub_out(len(self._line))
        elif key == END_OF_INPUT:
            self.ended = True
            return self._finish()
        elif key >= 0x20 and len(self._line) < MAX_LINE_BYTES:
            return self._collect(key)
        return b""

    def _collect(self, key: int) -> bytes:
        if not self._line and chr(key).isalpha() and key < 0x80:
            return bytes([key, 0x0A])
        self._line.append(key)
        self.echo += bytes([key])
        return b""

    def _finish(self) -> bytes:
        line = bytes(self._line)
        self._line.clear()
        if not line:
            return b""
        self.echo += b"\r\n"
        return line + b"\n"

    def _rub_out(self, count: int) -> None:
        count = min(count, len(self._line))
        del self._line[len(self._line) - count :]
        self.echo += RUB_OUT * count

    def _in_sequence(self, key: int) -> bool:
        """Tell whether ``key`` belongs to what an arrow or function key sends.

        Its last letter is no command. After Escape alone the next key counts: a digit
        must never be lost.
        """
        if self._escaped == b"\x1b" and key not in b"[O":
            self._escaped = b""
            return False
        ends = len(self._escaped) > 1 and 0x40 <= key <= 0x7E
        self._escaped = b"" if ends else self._escaped + bytes([key])
        return True


class PipedLines:
    """Holds piped bytes back until their line is whole, however long that takes.

    A pause in the middle of a line is no end: after it, the tail of ``11.52`` would
    pass for a number of its own.
    """

    echo = b""
    ended = False

    def __init__(self) -> None:
        self._partial = b""

    def feed(self, data: bytes) -> bytes:
        """Take bytes; return the lines they complete."""
        self._partial += data
        end = max(self._partial.rfind(b"\n"), self._partial.rfind(b"\r")) + 1
        if not end and len(self._partial) > MAX_LINE_BYTES:
            end = len(self._partial)  # no number: the decoder says so
        lines, self._partial = self._partial[:end], self._partial[end:]
        return lines

    def finish(self) -> bytes:
        """The input is closed: that ends the last line too."""
        lines, self._partial = self._partial, b""
        return lines + b"\n" if lines else b""
