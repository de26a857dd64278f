"""Prints the lowest versions that pyproject.toml allows, as constraints for pip."""

from __future__ import annotations

import re
import sys
import tomllib
from pathlib import Path

_BOUND = re.compile(r"(?P<name>[\w.-]+)>=(?P<version>[\d.]+)(?:,<[\d.]+)?(?P<marker>\s*;.*)?")


def lowest(project: dict[str, object]) -> list[str]:
    """Return ``NAME==LOWEST`` for each thing the package needs, with its marker."""
    return [_pinned(str(each)) for each in project["dependencies"]]  # type: ignore[attr-defined]


def _pinned(requirement: str) -> str:
    bound = _BOUND.fullmatch(requirement)
    if bound is None:
        raise SystemExit(f"{requirement}: says no lowest version")
    return f"{bound['name']}=={bound['version']}{bound['marker'] or ''}"


if __name__ == "__main__":
    text = (Path(__file__).parents[1] / "pyproject.toml").read_text(encoding="utf-8")
    sys.stdout.write("\n".join(lowest(tomllib.loads(text)["project"])) + "\n")
