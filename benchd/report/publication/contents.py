"""Every file of a publication, computed from its logs: page, plots, data; then what it says of itself."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Mapping, Sequence

from benchd.report.data.csv_rows import csv_text
from benchd.report.data.document import json_text, to_json
from benchd.report.data.verdicts import claims_json
from benchd.report.page.results_page import Logged, report_page, report_plots
from benchd.report.plots.picture import Drawing
from benchd.report.publication.manifest import CLAIMS_DATA, MANIFEST, PAGE, README, Manifest, PublishedLog, readme
from benchd.report.sections.claims import ClaimsShown


def computed_files(
    logs: Sequence[Logged | None], claims: ClaimsShown | None, *, page: bool = True
) -> Iterator[tuple[str, bytes]]:
    """Path in the folder and content of each file that the logs give; ``log.file`` of each is its path there.

    None stands for a log that gives no results; then there is no ``page``, nor any claims, which rest on all logs.
    """
    given = [one for one in logs if one]
    with Drawing(report_plots(logs)) as drawing:  # while the page is written
        shown = report_page(given, claims, drawing) if page else ""
        drawn = list(drawing)
    if page:
        yield PAGE, shown.encode()
    for one in drawn:
        yield f"plots/{one.plot.name}.svg", one.svg.encode()
        yield f"plots/{one.plot.name}.png", one.png
    for logged in given:
        document = to_json(logged.results, logged.log)
        name = logged.log.file.removeprefix("logs/").removesuffix(".log")
        yield f"data/{name}.json", json_text(document).encode()
        yield f"data/{name}.csv", csv_text(document).encode()
    if claims is not None:
        simulated = any(one.results.simulated for one in given)
        document = claims_json(claims, simulated=simulated)
        yield CLAIMS_DATA, json_text(document).encode()


def own_files(
    logs: Sequence[Logged], made: Mapping[str, str], digests: Mapping[str, str], *, target: bool, claims: bool, at: str
) -> dict[str, bytes]:
    """The manifest and the short file; ``digests``: SHA-256 of every other file of the folder."""
    published = tuple(PublishedLog(one.log.file, one.log.sha256, not one.results.interrupted) for one in logs)
    simulated = any(one.results.simulated for one in logs)
    manifest = Manifest(simulated, made, published, target, claims, digests, at)
    samples = list(dict.fromkeys(one.results.sample for one in logs))
    return {MANIFEST: manifest.text().encode(), README: readme(manifest, samples).encode()}


def sha256(content: bytes) -> str:
    """Hexadecimal."""
    return hashlib.sha256(content).hexdigest()
