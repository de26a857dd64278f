"""How much else a format would have taken for a reading.

Of formats that read what was heard alike, the one that would have accepted the fewest other
bytes is the likeliest. It is also the safe one: where formats agree on whatever both accept,
the narrower one may refuse a reading, and never gives a wrong one.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from functools import lru_cache
from itertools import combinations_with_replacement

from gaugelink.devices.decoders.bits import BitFormat, BitFrame
from gaugelink.devices.decoders.bridge_line import BridgeRecord, read_record
from gaugelink.devices.decoders.formats import make_bit_decoder
from gaugelink.devices.decoders.line import LineDecoder, Parity
from gaugelink.devices.identify.weighed import Trial
from gaugelink.model import Frame

# Some of each sort of character that lines are made of.
_OTHERS = b' +-.,;:<=>?"#/019AEGMNaimn'


def breadth(trial: Trial, raw: bytes) -> int:
    """Count the close relatives of a reading that the format takes for readings as well.

    Returns:
        How many of the lines with one character changed, left out or doubled, or of the
        bursts with one or two bits changed, it accepts; 0 for formats that are neither.
    """
    profile = trial.profile
    if profile.line is not None:
        fmt = replace(profile.line, check_parity=Parity.NONE)
        relatives = _lines_beside(bytes(byte & 0x7F for byte in raw))
        return sum(_is_reading(LineDecoder(fmt), line) for line in relatives)
    if profile.bits is not None:
        return _n_bursts_taken(profile.bits, raw)
    return 0


def _lines_beside(line: bytes) -> Iterator[bytes]:
    for i in range(len(line)):
        before, byte, after = line[:i], line[i : i + 1], line[i + 1 :]
        yield before + after
        yield before + byte + byte + after
        yield from (before + bytes([other]) + after for other in _OTHERS)


def _is_reading(decoder: LineDecoder, line: bytes) -> bool:
    events = decoder.feed(line)
    return bool(events) and all(isinstance(event, Frame) for event in events)


@lru_cache(maxsize=512)  # what was heard is judged again after each listening
def _n_bursts_taken(fmt: BitFormat, raw: bytes) -> int:
    return sum(_is_burst(fmt, burst) for burst in _bursts_beside(raw))


def _bursts_beside(raw: bytes) -> Iterator[BitFrame]:
    """Yield the burst in the last line of ``raw`` with one or two of its bits inverted."""
    record = read_record(raw[raw.rfind(b"#") :])
    if not isinstance(record, BridgeRecord):
        return
    n_bits, n_bytes = record.n_bits, len(record.packed)
    burst = int.from_bytes(record.packed, "little")
    for one, two in combinations_with_replacement(range(n_bits), 2):
        other = burst ^ (1 << one | 1 << two)
        yield BitFrame(n_bits=n_bits, packed=other.to_bytes(n_bytes, "little"))


def _is_burst(fmt: BitFormat, burst: BitFrame) -> bool:
    decoder = make_bit_decoder(fmt)
    # Some formats say nothing at first, and believe only what comes twice.
    events = decoder.decode(burst) or decoder.decode(burst)
    return any(isinstance(event, Frame) for event in events)
