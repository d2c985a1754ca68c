"""A figure as a kind of measurement declares it, before anything is measured: its names, its unit, what is better."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from typing import Literal, TypeVar

from benchd.errors import PackageError, did_you_mean
from benchd.measurements import registry
from benchd.measurements.former_names import figure_advice

Better = Literal["more", "less", "nearer"]
"""Which way a figure is better: the more, the less, or the nearer to what was aimed at."""

PURE_NUMBERS = frozenset({"xy", "u'v'", "Duv", "dE00", "gamma"})
"""Units that decide the digits of a pure number."""

CD_M2_PER_FL = 3.4262591
"""1 fL is 1 / pi cd/ft2; with a foot of 0.3048 m."""

_NIT, _FOOT_LAMBERT = ("cd/m2", 1.0), ("cd/m2", CD_M2_PER_FL)
WRITTEN_UNITS: dict[str, tuple[str, float]] = {
    **dict.fromkeys(("cd/m2", "cd/m\u00b2", "cd/m^2", "nit", "nits"), _NIT),
    **dict.fromkeys(
        ("fl", "ftl", "ft-l", "foot-lambert", "foot-lamberts", "footlambert", "footlamberts"), _FOOT_LAMBERT
    ),
    ":1": ("1", 1.0),
}
"""A unit as people write it, in small letters -> the figure's unit, and how many of that it is."""


def unit_size(written: str, unit: str) -> float | None:
    """How many of a figure's ``unit`` one of the unit that was ``written`` is, 1 for none; None where it is another."""
    plain = written.lower().replace(" ", "")
    known, size = WRITTEN_UNITS.get(plain, (plain, 1.0))
    return size if known.lower() in ("", unit.lower()) else None


Declared = TypeVar("Declared", bound="DeclaredFigure")


@dataclass(frozen=True, slots=True)
class DeclaredFigure:
    """One figure, or a family of them: ``{}`` in its names then stands for what its members differ in.

    ``name``       such as "white luminance", "peak luminance of a {} % window"
    ``topic``      heading that it stands under in a summary, such as "luminance" or "HDR"
    ``unit``       what its digits go by: "cd/m2", "1" (a ratio), "K", "%", "xy", "u'v'", "Duv", "dE00", "gamma", or
                   any other text, such as "ms" or "degrees", which is printed as it is
    ``better``     which way it is better
    ``short``      name of few letters for the command line and the page of ranks, which has no other figures; of a
                   family see ``members``
    ``head``       over its column in a table of many figures, in lines; "": its name
    ``rank``       its weight in such a table: where a terminal is narrow, those of a higher rank are left out first; 0
                   is drawn over the settings of a sweep as well
    ``headline``   does the summary show it? Others stand in sections, data and comparisons of parts
    ``claimable``  may a maker's claim be held against it? Of headlines alone
    ``member``     of a family: what may stand for ``{}``, as a regular expression
    ``members``    of a family: some members -> their short names; the first is the example
    ``optional``   the end of the name that a claim may leave open
    """

    name: str
    topic: str
    unit: str
    better: Better
    short: str = ""
    head: str = ""
    rank: int = 0
    headline: bool = True
    claimable: bool = True
    member: str = r".+"
    members: Mapping[str, str] = field(default_factory=dict)
    optional: str = ""

    @property
    def quantity_unit(self) -> str:
        """The unit of its quantities and of claims: "1" for any pure number."""
        return "1" if self.unit in PURE_NUMBERS else self.unit

    @property
    def example(self) -> str:
        """Its name; of a family that of a member, as a claim may have it."""
        return self.name.removesuffix(self.optional).replace("{}", next(iter(self.members), ""))

    def of(self: Declared, member: str, head: str = "") -> Declared:
        """The figure of a family that is named after ``member``; ``head``: what stands for that over its column."""
        return replace(
            self,
            name=_with_article(self.name.replace("{}", member)),
            short=self.members.get(member, ""),
            head=self.head.replace("{}", head or member),
        )

    def called(self, written: str) -> str:
        """The report's name of what is ``written``; "" where it is another figure. Capitals are the same.

        It may be written by its short name too, and as a report has it: ``dE00`` for ``delta E``.
        """
        written = spelled_out(written)
        if member := self.short_names.get(written.lower()):
            return member
        if "{}" not in self.name:
            return self.name if written.lower() == self.name.lower() else ""
        end = f"({self._pattern(self.optional)})?" if self.optional else ""
        found = re.fullmatch(self._pattern(self.name.removesuffix(self.optional)) + end, written, re.IGNORECASE)
        return _with_article(re.sub(r"\ban (?=[0-9])", "a ", written)) if found else ""

    def has(self, name: str) -> bool:
        """Is the figure ``name`` of a report this one, or of this family? It may name its block: "gamma (evening)"."""
        return self._whole(name) is not None

    def member_of(self, name: str) -> str:
        """What the figure ``name`` of this family has for ``{}``, with the block that it names."""
        found = self._whole(name)
        return f"{found['member']}{found['block'] or ''}" if found else name

    def _whole(self, name: str) -> re.Match[str] | None:
        return re.fullmatch(rf"{self._pattern(self.name)}(?P<block> \([^()]+\))?", name, re.IGNORECASE)

    @property
    def short_names(self) -> dict[str, str]:
        """Short name -> the name that it stands for; of a family those of its members."""
        found = {self.short: self.name, **{short: self.of(member).name for member, short in self.members.items()}}
        return {short: name for short, name in found.items() if short}

    def _pattern(self, name: str) -> str:
        """A regular expression of a name; what stands for each ``{}`` is the same."""
        first, *rest = map(re.escape, name.split("{}"))
        first = re.sub(r" a\\ \Z", r" an?\\ ", first)  # "of an 8 % window" too
        again = "(?P=member)".join(rest)
        return f"{first}(?P<member>{self.member}){again}" if rest else first


def spelled_out(written: str) -> str:
    """The name of a figure that a person wrote as declarations and data have it: ``delta E`` for ``dE00``, ``ΔE₀₀``."""
    return re.sub(r"(?i)\b(?:[dΔ]E(?:00|₀₀)(?=[ -])|[dΔ]E(?=[ -]ITP\b))", "delta E", written)


def plain_name(name: str) -> str:
    """A declared name as a person reads it, in texts as in summaries: ``grayscale dE00 mean``, ``HDR dE ITP mean``.

    A page and a plot set the signs of print in its place.
    """
    return name.replace("delta E ITP", "dE ITP").replace("delta E ", "dE00 ")


def _with_article(name: str) -> str:
    """``of an 18 % window``: "an" before a number that begins with a vowel when it is spoken."""
    return re.sub(r"\ba (?=8|1[18](?![0-9]))", "an ", name)


EVERYDAY = {
    **dict.fromkeys(("brightness", "luminance", "white brightness", "max brightness"), "white luminance"),
    **dict.fromkeys(("peak brightness", "hdr brightness"), "maximum peak luminance"),
    **dict.fromkeys(("black level", "black"), "black luminance"),
    **dict.fromkeys(("contrast ratio", "static contrast"), "contrast"),
    **dict.fromkeys(
        ("uniformity", "uniformity white", "worst deviation", "worst deviation of white"), "non-uniformity of white"
    ),
    **dict.fromkeys(("colour temperature", "color temperature", "white point"), "white CCT"),
}
"""What people often call a figure -> its name."""
MOST_LIKELY = 3
MOST_NAMED = 6
"""Names of figures that a sentence has where several are likely, and where none is."""


def figure_called(written: str, among: Iterable[DeclaredFigure]) -> tuple[str, DeclaredFigure]:
    """The name that a report has of the figure that is ``written``, by its name or its short one, and its declaration.

    Raises ValueError with a sentence that names its neighbours.
    """
    if advice := figure_advice(written):
        raise ValueError(f"{written!r} {advice}")
    known = list(among)
    for one in known:
        if name := one.called(written):
            return name, one
    names = {name.lower(): name for one in known for name in (one.example, *one.short_names)}
    meant = EVERYDAY.get(written.lower(), "").lower()
    having = [name for name in names if written.lower() in re.split(r"[ \-/]+", name)]
    if likely := [names[meant]] if meant in names else [names[name] for name in having][:MOST_LIKELY]:
        raise ValueError(f"there is no figure {written!r}; did you mean {' or '.join(map(plain_name, likely))}?")
    leading = [one.example for one in known if one.rank == 0][:MOST_NAMED]
    advice = did_you_mean(spelled_out(written), names.values(), f"known are, among others: {', '.join(leading)}")
    raise ValueError(f"there is no figure {written!r}; {plain_name(advice)}")


def declared_figures() -> Iterator[DeclaredFigure]:
    """Those of every kind that is built in, then of every package that is installed and can be used."""
    for kind in registry.all_kinds():
        try:
            yield from registry.part(kind, "results").declared
        except PackageError:
            continue  # the reason is reported where a log has a block of that kind


def kinds_that_have(name: str) -> list[str]:
    """The kinds of blocks that have the figure ``name`` of a report among theirs."""
    found = []
    for kind in registry.all_kinds():
        try:
            declared = registry.part(kind, "results").declared
        except PackageError:
            continue
        if any(one.called(name) for one in declared):
            found.append(kind)
    return found
