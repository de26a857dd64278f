"""Jobs that a search found, and how the bench's predictions came out, as text and JSON."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from gaugelink.jobbook.codec import JobLine
from gaugelink.jobbook.dimensions import Difference, Likeness
from gaugelink.jobbook.predictions import LEAST_JOBS, Prediction
from gaugelink.report.contract import SCHEMA
from gaugelink.report.figures_contract import Json
from gaugelink.report.table import table, wrapped

_SAID = {
    "hours": "Your bench runs {:.2f} of the computed hours",
    "amplitude": "Your amplitudes come out at {:.2f} of what was computed",
    "crown turns": "The crown takes {:.2f} of the computed turns",
}
_OWN = (
    "These are your own bench's factors, from your own jobs. They are shown for you to judge, "
    "and are never put into a computation."
)


def jobs_text(lines: Sequence[JobLine]) -> str:
    """Render a list of jobs as a table."""
    header = ("title", "job", "begun (UTC)", "readings", "state")
    return table(header, [_cells(line) for line in lines])


def likeness_text(likes: Sequence[Likeness], titles: Mapping[int, str]) -> str:
    """Render the most alike earlier jobs: whether one is the same size first, then by how much."""
    same = [like for like in likes if like.is_same_size]
    blocks = [wrapped(_answer(same, likes), lead="")]
    for like in likes:
        word = "the same within uncertainty" if like.is_same_size else "not the same"
        head = f"JOB {like.job_id}  {titles.get(like.job_id, '')}".rstrip()
        rows = [_difference_row(each) for each in like.differences]
        lines = [f"{head}  ({word})", table(("", "differs by mm", "in u", ""), rows)]
        blocks.append("\n".join(lines))
    return "\n\n".join(blocks) + "\n"


def likeness_json(likes: Sequence[Likeness], titles: Mapping[int, str]) -> Json:
    """Return the most alike earlier jobs as JSON data."""
    return {"schema": SCHEMA, "like": [_like_json(like, titles) for like in likes]}


def predictions_text(predictions: Sequence[Prediction]) -> str:
    """Render how good the predictions were, in plain words."""
    if not predictions:
        return (
            "No job has both figures that were foreseen and figures that were seen.\n"
            "Keep them with: gaugelink jobs JOB --chosen ... and, once it runs, --after ...\n"
        )
    blocks = [wrapped(" ".join(_sentences(each)), lead="") for each in predictions]
    return "\n\n".join([*blocks, wrapped(_OWN, lead="")]) + "\n"


def _sentences(prediction: Prediction) -> Iterator[str]:
    name, n = prediction.name, prediction.n
    if not prediction.tells_enough:
        yield (
            f"{name.capitalize()}: {n} job{'s' if n > 1 else ''} so far, too few to speak of a "
            f"factor; {LEAST_JOBS} are needed."
        )
    else:
        yield _SAID[name].format(prediction.median_ratio) + (
            f", the median of {n} jobs; the interval {prediction.low_ratio:.2f} to "
            f"{prediction.high_ratio:.2f} holds the true median with "
            f"{100 * prediction.confidence:.0f} % confidence."
        )
        yield (
            f"Half of the jobs lie between {prediction.quarter_ratio:.2f} and "
            f"{prediction.three_quarter_ratio:.2f}."
        )
    yield f"{prediction.n_inside} of {n} came within what was foreseen."


def _answer(same: Sequence[Likeness], likes: Sequence[Likeness]) -> str:
    if not likes:
        return "No earlier job has a bore to compare with."
    if not same:
        return "No earlier barrel is the same within uncertainty; the nearest were:"
    numbers = ", ".join(str(like.job_id) for like in same)
    return (
        f"Yes, or one of the same size: job{'s' if len(same) > 1 else ''} {numbers}. Sizes alone "
        "do not tell one barrel from its twin."
    )


def _difference_row(difference: Difference) -> tuple[str, ...]:
    return (
        difference.name.replace("depth_", "depth to the ").replace("_", " "),
        f"{difference.difference_mm:+.3f}",
        f"{difference.in_u:+.1f}",
        "agrees" if difference.agrees else "differs",
    )


def _like_json(like: Likeness, titles: Mapping[int, str]) -> Json:
    return {
        "job": like.job_id,
        "title": titles.get(like.job_id, ""),
        "same_size": like.is_same_size,
        "distance_in_u": like.distance_in_u,
        "differences": [
            {"name": d.name, "difference_mm": d.difference_mm, "in_u": d.in_u, "agrees": d.agrees}
            for d in like.differences
        ],
    }


def _cells(line: JobLine) -> tuple[str, ...]:
    begun = line.created_utc[:16].replace("T", " ")
    state = "complete" if line.closed else "open"
    return (line.title or "-", str(line.job_id), begun, str(line.n_standing), state)
