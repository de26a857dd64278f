"""What to ask the person: one fact at a time, and only facts that they can see."""

from __future__ import annotations

from collections.abc import Sequence

from gaugelink.devices.identify.findings import shown_text
from gaugelink.devices.identify.shown import Shown
from gaugelink.devices.identify.verdict import Ask, Question
from gaugelink.devices.identify.weighed import Weighed

_AGAIN = 'Then listen again with what the display shows, such as --shows "{example}".'


def nothing_heard() -> Question:
    """Ask for the usual causes of silence."""
    text = (
        "Is the gauge switched on, and its battery good? Press its data button while listening. "
        "Check the cable, and set the gauge to a usual speed, such as 9600 baud."
    )
    return Question(ask=Ask.GAUGE, text=text)


def only_bridge() -> Question:
    """Ask for the gauge behind a bridge that is alive."""
    text = (
        "A bridge is there, but no gauge behind it is heard. Is the gauge switched on, its "
        "battery good, and its cable wired to the port of the bridge that is asked, port 0?"
    )
    return Question(ask=Ask.GAUGE, text=text)


def which_port(ports: Sequence[int]) -> Question:
    """Ask which of the gauges on a bridge is meant."""
    names = " or ".join(f"port={port}" for port in ports)
    text = f"The bridge has more than one gauge. Add one of them to the address: {names}."
    return Question(ask=Ask.PORT, text=text)


def not_explained(reasons: str) -> Question:
    """Say what may be wrong where bytes came that mean nothing; ``reasons`` if any are known."""
    text = (
        "If they look like noise, set the gauge to a usual speed such as 9600 baud; if they "
        "look like numbers, keep them with ?format=text-input and --record FILE, and write a "
        "format of your own as DEVELOPERS.md shows."
    )
    return Question(ask=Ask.GAUGE, text=reasons or text)


def too_little() -> Question:
    """Ask for another reading, since a short line may be chance."""
    text = "One short line may be chance. Press the data button again, twice or more."
    return Question(ask=Ask.MORE, text=text)


def no_reading_yet(best: Weighed) -> Question:
    """Ask for a reading where the gauge has only said something else."""
    said = best.evidence.others[-1].rstrip(".")
    text = (
        f"No reading yet, only: {said}. Bring the gauge into its range and press its data button."
    )
    return Question(ask=Ask.MORE, text=text)


def not_shown(whole: Sequence[Weighed], shown: Shown) -> Question:
    """Ask again, since no format reads what the display is said to show."""
    read = " or ".join(_readings(whole))
    text = (
        f"No format reads {shown}; what was heard last is {read}. "
        f"Hold the gauge still. {_AGAIN.format(example=shown)}"
    )
    return Question(ask=Ask.SHOWN, text=text)


def shown_value(rivals: Sequence[Weighed], shown: Shown | None) -> Question:
    """Ask what the display shows: that decides between numbers, and between units."""
    read = " or ".join(_readings(rivals))
    example = shown_text(rivals[0].last)
    if len({w.last.value for w in rivals}) == 1 and all(w.trial.unit for w in rivals):
        what = f"The line does not say its unit: {read}? Look at the display."
        return Question(ask=Ask.UNIT, text=f"{what} {_AGAIN.format(example=example)}")
    before = f"{shown} fits more than one format. " if shown else ""
    text = (
        f"{before}The last reading may be {read}. Close the jaws, press zero, open them to a "
        f"length that you know, such as 10 mm. {_AGAIN.format(example='10.00 mm')}"
    )
    return Question(ask=Ask.VALUE, text=text)


def unit_key(format_name: str) -> Question:
    """Ask for a reading in inches: only that shows whether the gauge sends its unit."""
    text = (
        "Some gauges of this kind do not send their unit. Open the jaws to about 10 mm and press "
        f"the unit key, so that the display shows inches. {_AGAIN.format(example='0.3935 in')} "
        f"A gauge without that key is read as ?format={format_name}."
    )
    return Question(ask=Ask.UNIT_KEY, text=text)


def which_format(best: Sequence[Weighed]) -> Question:
    """Ask which format it is where all of them would do."""
    names = "; ".join(f"{w.profile.name}: {w.profile.title}" for w in best)
    text = f"These formats read the gauge alike; add the one that fits as ?format=NAME. {names}."
    return Question(ask=Ask.FORMAT, text=text)


def _readings(weighed: Sequence[Weighed]) -> list[str]:
    """Return the last reading of each, without repeats; few enough to read."""
    texts = (shown_text(w.last) for w in weighed if w.evidence.frames)
    return list(dict.fromkeys(texts))[:4]
