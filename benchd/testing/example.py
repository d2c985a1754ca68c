"""The smallest plan of some kinds, run once, and what becomes of its log everywhere; each made when first needed."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from types import MappingProxyType
from typing import Any

from benchd.analysis.analyse import analyse
from benchd.analysis.catalogue import figures
from benchd.analysis.catalogue_figure import Figure
from benchd.analysis.results import Results
from benchd.plan.measurement import plan_part
from benchd.plan.steps import describe
from benchd.report.data.csv_rows import csv_text
from benchd.report.data.document import to_json
from benchd.report.data.log_reference import LogReference
from benchd.report.page.results_page import Logged, report_page
from benchd.report.terminal.results_text import render_text
from benchd.run.job import PlanJob, bench_job, plan_job
from benchd.run.log.journal import LogFile
from benchd.run.log.records import Record
from benchd.run.operator_checks import Operator
from benchd.run.session import start

Session = Callable[[PlanJob, Path], object]
"""Runs a plan to its end and keeps its log at the path."""

KNOB, POINTS = "knob", (1, 2)
"""The control of the swept example, and its values."""


def on_a_shipped_bench(job: PlanJob, log: Path) -> object:
    """The `Session` on the simulated bench that fits the plan, in processes of its own and on virtual time."""
    bench = bench_job("sim-office" if job.plan.signal is None else "sim-hdr-lcd")
    return start(job, bench, log, Operator(), sample="example/1")


@dataclass(frozen=True)
class Example:
    """Some kinds in one plan. Every block has the name of its kind."""

    kinds: tuple[str, ...]
    hdr: bool
    folder: Path
    session: Session

    def text(self, *kinds: str, sweep: bool = False, more: Mapping[str, object] = MappingProxyType({})) -> str:
        """A plan with the example blocks of these kinds; ``more``: further keys of each block."""
        signal = "signal: {transfer: pq}\n" if self.hdr else ""
        swept = f"sweep: [{{control: {KNOB}, values: {list(POINTS)}}}]\n" if sweep else ""
        blocks = (f"  - {kind}: {json.dumps({**plan_part(kind).example, **more})}\n" for kind in kinds)
        return f"plan: example\nwarm_up: none\nlook_again: false\n{signal}{swept}blocks:\n{''.join(blocks)}"

    def job(self, *kinds: str, sweep: bool = False, more: Mapping[str, object] = MappingProxyType({})) -> PlanJob:
        """The plan, loaded, with its steps."""
        path = self.folder / "example.yaml"
        path.write_text(self.text(*kinds, sweep=sweep, more=more))
        return plan_job(str(path))

    @cached_property
    def log(self) -> LogFile:
        """The log of a run."""
        path = self.folder / f"{'hdr' if self.hdr else 'sdr'}.log"
        self.session(self.job(*self.kinds), path)
        return LogFile(path)

    @cached_property
    def reference(self) -> LogReference:
        """Which log it is."""
        return LogReference(str(self.log.path), self.log.sha256)

    @cached_property
    def records(self) -> tuple[Record, ...]:
        """Its records."""
        return tuple(self.log.records())

    @cached_property
    def head(self) -> Mapping[str, Any]:
        """What its first record says."""
        return self.records[0].body

    @cached_property
    def results(self) -> Results:
        """What analysis makes of it."""
        return analyse(self.records)

    @cached_property
    def figures(self) -> tuple[Figure, ...]:
        """The catalogue."""
        return figures(self.results)

    def figures_of(self, kind: str) -> list[Figure]:
        """The catalogue's figures of one kind."""
        return [one for one in self.figures if one.block == kind]

    @cached_property
    def document(self) -> dict[str, Any]:
        """Its results as JSON, read back."""
        found: dict[str, Any] = json.loads(json.dumps(to_json(self.results, self.reference), allow_nan=False))
        return found

    @cached_property
    def csv(self) -> str:
        """Its results as a table."""
        return csv_text(to_json(self.results, self.reference))

    @cached_property
    def terminal(self) -> str:
        """Its results on a terminal, blanks as they come."""
        return render_text(self.results, log=self.reference)

    @cached_property
    def page(self) -> str:
        """Its results as a page."""
        return report_page([Logged(self.results, self.reference, ())])

    @cached_property
    def swept(self) -> Results:
        """The same readings once for each point of a sweep of a control."""
        swept = self.job(*self.kinds, sweep=True)
        head = self.records[0]._replace(
            body={**self.head, "blocks": describe(swept.plan, swept.files), "steps": len(swept.steps)}
        )
        several = [head]
        for number, value in enumerate(POINTS):
            for one in self.records[1:-1]:
                body = {**one.body, **({"block": f"{KNOB}={value}/{one.body['block']}"} if "block" in one.body else {})}
                step = f"{KNOB}={value}/{one.step}" if one.step else ""
                later_ns = number * self.records[-1].mono_ns
                several.append(one._replace(seq=len(several) + 1, mono_ns=one.mono_ns + later_ns, step=step, body=body))
        return analyse([*several, self.records[-1]._replace(seq=len(several) + 1)])

    def cut(self, kind: str) -> tuple[Results, Results]:
        """The results of a log that ends before the first, and before the last, step of a kind is done."""
        own = [(number, one) for number, one in enumerate(self.records) if one.step.partition("/")[0] == kind]
        done = [number for number, one in own if one.kind == "done"]
        return analyse(self.records[: done[0]]), analyse(self.records[: done[-1]])
