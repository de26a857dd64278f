"""The found spring read: tired, the wrong one, original? A finding with its evidence.

Every clue says what was seen, what it speaks for, and on what ground. A clue that lies
within its uncertainty of a limit speaks for neither side. The clues are gathered in
``evidence``; here is what they add up to.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum


class Question(StrEnum):
    """What is asked of a found spring."""

    TIRED = "tired"
    WRONG = "wrong one"
    ORIGINAL = "original"


class Speaks(StrEnum):
    """Which side of its question a clue takes."""

    FOR = "for"
    AGAINST = "against"
    NEITHER = "neither"


class Leaning(StrEnum):
    """What the clues of a question add up to."""

    YES = "yes"
    NO = "no"
    MIXED = "mixed"
    OPEN = "open"


@dataclass(frozen=True, slots=True, kw_only=True)
class Clue:
    """One thing seen: ``seen`` says it in a sentence, ``basis`` why it means anything."""

    question: Question
    code: str
    seen: str
    speaks: Speaks
    basis: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """What the clues to one question add up to, in words and with the clues themselves."""

    question: Question
    leaning: Leaning
    text: str
    clues: tuple[Clue, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """The reading of the found spring as a whole: a finding from what was seen, no verdict."""

    text: str
    answers: tuple[Answer, ...]


_WORDS = {
    (Question.TIRED, Leaning.YES): "It looks tired.",
    (Question.TIRED, Leaning.NO): "It shows no sign of being tired.",
    (Question.TIRED, Leaning.MIXED): "There are signs for and against its being tired.",
    (Question.TIRED, Leaning.OPEN): (
        "Nothing seen says whether it is tired, and its sizes cannot: count the loose coils, "
        "measure it lying free."
    ),
    (Question.WRONG, Leaning.YES): "It does not look made for this barrel.",
    (Question.WRONG, Leaning.NO): "Its sizes suit this barrel.",
    (Question.WRONG, Leaning.MIXED): "Some of its sizes suit this barrel, others do not.",
    (Question.WRONG, Leaning.OPEN): "Too little is known to say whether it suits this barrel.",
    (Question.ORIGINAL, Leaning.YES): "It may be the original: it agrees with the document.",
    (Question.ORIGINAL, Leaning.NO): "It is not of the documented size, so hardly the original.",
    (Question.ORIGINAL, Leaning.MIXED): "The document speaks for and against the original.",
    (Question.ORIGINAL, Leaning.OPEN): "Nothing seen says whether it is the original.",
}
CLOSE = "This is a finding from what was seen, not a verdict."


def found_from(clues: Sequence[Clue]) -> Finding:
    """Add up the clues, question by question."""
    answers = tuple(_answer(question, clues) for question in Question)
    return Finding(text=" ".join((*(a.text for a in answers), CLOSE)), answers=answers)


def _answer(question: Question, clues: Sequence[Clue]) -> Answer:
    own = tuple(clue for clue in clues if clue.question is question)
    leaning = _leaning({clue.speaks for clue in own})
    return Answer(question=question, leaning=leaning, text=_WORDS[question, leaning], clues=own)


def _leaning(sides: set[Speaks]) -> Leaning:
    both = {Speaks.FOR, Speaks.AGAINST}
    if both <= sides:
        return Leaning.MIXED
    if Speaks.FOR in sides:
        return Leaning.YES
    return Leaning.NO if Speaks.AGAINST in sides else Leaning.OPEN
