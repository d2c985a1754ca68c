"""Names that came with earlier versions, and what they are called now: old plans are answered, old logs are read."""

from __future__ import annotations

import re
from typing import NamedTuple


class FormerSpace(NamedTuple):
    """A colour space under its former name and label, and those of now; ``rather``: which other one may be meant."""

    name: str
    label: str
    now: str
    label_now: str
    rather: str = ""


SPACES = (
    FormerSpace("display-p3", "Display P3", "p3-d65", "P3-D65"),
    FormerSpace("dci-p3", "DCI-P3", "p3-cinema", "P3 cinema", "; P3 with white D65, as displays have it, is p3-d65"),
    FormerSpace("adobe-rgb-1998", "Adobe RGB (1998)", "oprgb", "opRGB"),
)
"""The only place that still has the former names."""

GONE = {
    ("charts", "chart24"): "no longer comes with benchd; use cie-test-colours, or keep the file of the earlier version "
    "as profiles/charts/chart24.csv"
}
"""Store and name of a profile that is no longer there -> what is said of it."""

FIGURES = {
    "greatest peak luminance": "maximum peak luminance",
    "hdr contrast of a ": "contrast of a ",
    **{f"coverage of {one.label}".lower(): f"coverage of {one.label_now}" for one in SPACES},
}
"""How names of figures began, in small letters, and how they begin now."""


FIGURES_GONE = {
    f"chart-de-{short}": f"was of a chart that no longer comes with benchd; logs with it have '{name} of chart24', "
    f"those with the chart of now test-colours-de-{short}"
    for short, name in (("mean", "colour dE00 mean"), ("max", "colour dE00 maximum"))
}


SATURATIONS = re.compile(
    r"saturations (?P<percents>[0-9.]+(?:, [0-9.]+)* %), straight from white in CIE (?:1976 u', v'|(?P<xy>1931 x, y)), "
    "luminance of the full colour",
    re.IGNORECASE,
)
"""A list of saturations in the words of a log, which names of figures had whole."""
USUAL_PERCENTS = "20, 40, 60, 80, 100 %"


def list_now(words: str) -> str:
    """What figures call a list of colours, of which a log has ``words``: those of other saturations name them."""

    def short(found: re.Match[str]) -> str:
        percents = "" if found["percents"] == USUAL_PERCENTS else f" {found['percents']}"
        return f"saturations{percents}{' in x, y' if found['xy'] else ''}"

    return SATURATIONS.sub(short, words.removeprefix("chart "))


def space_now(name: str, label: str) -> tuple[str, str]:
    """Name and label of a space as a log has them, in the words of now; a space of ones own is left alone."""
    return next(((one.now, one.label_now) for one in SPACES if (one.name, one.label) == (name, label)), (name, label))


def profile_advice(store: str, name: str) -> str:
    """What is said of a profile by its former name, such as ``is now called p3-d65``; "" for any other one."""
    if store == "spaces":
        return next((f"is now called {one.now}{one.rather}" for one in SPACES if one.name == name), "")
    return GONE.get((store, name), "")


def figure_advice(written: str) -> str:
    """What is said of a figure by its former name, such as "is now called opRGB"; "" for any other one."""
    if SATURATIONS.search(written):
        return f"is now called {list_now(written)}"
    for before, now in FIGURES.items():
        if written.lower().startswith(before):
            return f"is now called {now}{written[len(before) :]}"
    return FIGURES_GONE.get(written.lower(), "")
