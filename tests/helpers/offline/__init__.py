"""Programs of Python that are off the network, and what they asked for all the same."""

import os
from pathlib import Path

FOLDER = Path(__file__).parent


def off_the_network(asked: Path, *path: Path) -> dict[str, str]:
    """The environment of a program that is off the network, with folders that it imports from."""
    places = os.pathsep.join(map(str, (FOLDER, *path)))
    return {"PYTHONPATH": places, "PLANNER_ASKED": str(asked)}


def asked_for(asked: Path) -> list[str]:
    """What such programs wanted from outside this computer."""
    return asked.read_text("utf-8").splitlines() if asked.exists() else []
