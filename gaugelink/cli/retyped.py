"""What was typed of a barrel, kept with a result, so that its page need not be told again."""

from __future__ import annotations

import shlex
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import fields, replace

from gaugelink.cli.barrel import BarrelOptions
from gaugelink.cli.watch import WatchOptions
from gaugelink.jobbook.facts import ChoiceVersion, SizeVersion, StoredFact
from gaugelink.model import DepthReference
from gaugelink.report.contract import Json
from gaugelink.sizing.inputs import CLEARANCE

TYPED = "typed"
_CLUE = "found_"
_USUAL = {"clearance": f"{CLEARANCE.value:g}"}  # typer fills it in where nothing was typed
_WATCH = tuple(field.name for field in fields(WatchOptions))

Words = Mapping[str, str | bool]  # by the name of the option


def words_of(barrel: BarrelOptions) -> dict[str, str | bool]:
    """Return what was typed of barrel, springs and watch; empty where nothing was."""
    everything = {
        **barrel.lengths,
        **{f"{_CLUE}{name}": text for name, text in barrel.clues.items()},
        "depth_from": barrel.depth_reference and str(barrel.depth_reference),
        "documented": barrel.documented,
        "hours_per_turn": barrel.hours_per_turn,
        **{name: getattr(barrel.watch, name) for name in _WATCH},
    }
    return {name: word for name, word in everything.items() if word and word != _USUAL.get(name)}


def kept_with(result: Json, barrel: BarrelOptions) -> Json:
    """Return a result with what was typed for it, to be kept with its job."""
    return {**result, TYPED: words_of(barrel)}


def latest_words(facts: Sequence[StoredFact]) -> dict[str, str | bool]:
    """Return what was typed for the latest sizing or choice of a job for which something was."""
    versions = (f.fact for f in reversed(facts) if isinstance(f.fact, SizeVersion | ChoiceVersion))
    return next((dict(words) for v in versions if (words := v.result.get(TYPED))), {})


def with_words(barrel: BarrelOptions, words: Words) -> BarrelOptions:
    """Return what was typed of the barrel with earlier words in the place of nothing."""
    texts = {name: word for name, word in words.items() if isinstance(word, str)}
    known = {name: word for name, word in words.items() if name in _WATCH}
    depth_from = texts.get("depth_from")
    return replace(
        barrel,
        lengths={name: texts.get(name, text) for name, text in barrel.lengths.items()},
        clues={name: texts.get(f"{_CLUE}{name}", text) for name, text in barrel.clues.items()},
        depth_reference=DepthReference(depth_from) if depth_from else barrel.depth_reference,
        documented=texts.get("documented"),
        hours_per_turn=texts.get("hours_per_turn"),
        watch=replace(barrel.watch, **known),  # type: ignore[arg-type]  # by the names of its fields
    )


def spoken(words: Words) -> str:
    """Return words as options of the command line."""
    return " ".join(_spoken(words))


def _spoken(words: Words) -> Iterator[str]:
    for name, word in words.items():
        option = f"--{name.replace('_', '-')}"
        yield option if word is True else f"{option} {shlex.quote(str(word))}"
