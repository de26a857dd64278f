"""The faults that are injected, each a change of the bytes or bits of one frame.

``BIT_FAULTS`` act on the bits in the gauge's own cable, before a bridge puts its
checksum around them. All others act on what travels to the computer.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from random import Random

from senders import Bits, Pieces


def flipped(bits: Bits, dice: Random) -> Bits:
    where = dice.randrange(len(bits))
    return (*bits[:where], 1 - bits[where], *bits[where + 1 :])


def lost(bits: Bits, dice: Random) -> Bits:
    where = dice.randrange(len(bits))
    return bits[:where] + bits[where + 1 :]


def doubled(bits: Bits, dice: Random) -> Bits:
    where = dice.randrange(len(bits))
    return (*bits[:where], bits[where], *bits[where:])


def lost_count_kept(bits: Bits, dice: Random) -> Bits:
    """Lose a bit and read the idle line, at either level, in place of the last one."""
    return (*lost(bits, dice), dice.randrange(2))


def doubled_count_kept(bits: Bits, dice: Random) -> Bits:
    """Read a bit twice and stop after as many as the format has."""
    return doubled(bits, dice)[:-1]


BIT_FAULTS: Mapping[str, Callable[[Bits, Random], Bits]] = {
    "bit flip": flipped,
    "bit lost": lost,
    "bit dbl": doubled,
    "lost/n": lost_count_kept,
    "dbl/n": doubled_count_kept,
}


ALIKE = {f"{name} ×2": name for name in BIT_FAULTS}  # the same damage in two frames in a row


@dataclass(frozen=True, slots=True, kw_only=True)
class Way:
    """What comes from the frame that is hit: chunks; None in place of one is a loss of the port.

    ``joined`` is true when the next frame follows with no silence in between.
    """

    chunks: tuple[Pieces | None, ...]
    joined: bool = False


Damage = Callable[[Pieces, Pieces, int, Random], Way]  # this frame, the next, bits of a piece


def _with(pieces: Pieces, where: int, *new: bytes) -> Way:
    return Way(chunks=((*pieces[:where], *new, *pieces[where + 1 :]),))


def _body(piece: bytes) -> int:
    """Return where what may be changed begins: a report's length byte is ours, not the wire's."""
    return 1 if len(piece) > 1 else 0


def untouched(this: Pieces, following: Pieces, n_bits: int, dice: Random) -> Way:
    return Way(chunks=(this,))


def bit_flipped(this: Pieces, following: Pieces, n_bits: int, dice: Random) -> Way:
    where = dice.randrange(len(this))
    piece = bytearray(this[where])
    piece[dice.randrange(_body(piece), len(piece))] ^= 1 << dice.randrange(n_bits)
    return _with(this, where, bytes(piece))


def changed(this: Pieces, following: Pieces, n_bits: int, dice: Random) -> Way:
    where = dice.randrange(len(this))
    piece = bytearray(this[where])
    place = dice.randrange(_body(piece), len(piece))
    piece[place] ^= dice.randrange(1, 1 << n_bits)
    return _with(this, where, bytes(piece))


def digit_changed(this: Pieces, following: Pieces, n_bits: int, dice: Random) -> Way:
    """Make another digit of one digit: the worst that can happen to a byte."""
    places = [
        i for i, piece in enumerate(this) if len(piece) == 1 and chr(piece[0] & 127).isdigit()
    ]
    if not places:
        return changed(this, following, n_bits, dice)
    where = dice.choice(places)
    other = dice.choice([d for d in b"0123456789" if d != this[where][0] & 127])
    parity = (other.bit_count() % 2) << 7 if n_bits == 8 and _has_parity(this) else 0
    return _with(this, where, bytes([other | parity]))


def _has_parity(pieces: Pieces) -> bool:
    return any(piece[0] & 128 for piece in pieces)


def dropped(this: Pieces, following: Pieces, n_bits: int, dice: Random) -> Way:
    return _with(this, dice.randrange(len(this)))


def twice(this: Pieces, following: Pieces, n_bits: int, dice: Random) -> Way:
    where = dice.randrange(len(this))
    return _with(this, where, this[where], this[where])


def merged(this: Pieces, following: Pieces, n_bits: int, dice: Random) -> Way:
    """Lose the end of the line, so that the next one follows at once."""
    end = len(this)
    while end > 1 and this[end - 1][-1] & 127 in b"\r\n":
        end -= 1
    end = end if end < len(this) else max(1, end - 2)  # Enter, down and up
    return Way(chunks=(this[:end],), joined=True)


def truncated(this: Pieces, following: Pieces, n_bits: int, dice: Random) -> Way:
    return Way(chunks=(this[: dice.randrange(1, max(2, len(this)))],), joined=True)


def closed(this: Pieces, following: Pieces, n_bits: int, dice: Random) -> Way:
    """Lose the port inside a frame; the rest of it never comes."""
    return Way(chunks=(this[: dice.randrange(len(this))], None))


def tail_first(this: Pieces, following: Pieces, n_bits: int, dice: Random) -> Way:
    """Plug in while the gauge is sending: the first that is heard is the tail of a frame."""
    return Way(chunks=(None, this[dice.randrange(1, max(2, len(this))) :]))


def two_writers(this: Pieces, following: Pieces, n_bits: int, dice: Random) -> Way:
    """Mix two frames byte by byte, each in its own order."""
    left, right, mixed = list(this), list(following), []
    while left or right:
        source = left if left and (not right or dice.random() < 0.5) else right
        mixed.append(source.pop(0))
    return Way(chunks=(tuple(mixed),))


WIRE_FAULTS: Mapping[str, Damage] = {
    "none": untouched,
    "flip": bit_flipped,
    "drop": dropped,
    "change": changed,
    "digit": digit_changed,
    "double": twice,
    "merged": merged,
    "cut": truncated,
    "closed": closed,
    "replug": tail_first,
    "2 writers": two_writers,
}
