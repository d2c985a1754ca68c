"""Results as text for a terminal: conditions first, then each block, then what could not be had."""

from __future__ import annotations

from collections.abc import Mapping

from benchd.analysis.catalogue import headlines
from benchd.analysis.figure_conditions import SIGNALS
from benchd.analysis.meter_model.spectral import takes_luminance
from benchd.analysis.results import Results
from benchd.report.data.log_reference import LogReference
from benchd.report.judged import judged_by
from benchd.report.measurement import show_part, shown_blocks
from benchd.report.sections.compensation import compensation_words
from benchd.report.sections.whole_log import run_sections
from benchd.report.terminal.precision_text import precision_words
from benchd.report.terminal.section_text import named_lines, section_lines
from benchd.report.terminal.text_page import Page, page_for
from benchd.report.terminal.warm_up import warm_up_words
from benchd.report.uncertain import is_coarse, resolution_matters, resolution_words, stated_words
from benchd.report.words import count, printable

FIGURES = (
    "\u00b1 or (from to): holds the truth with 95 %, k its coverage factor; "
    "n: readings behind a figure; scatter: their standard deviation in percent of it; s: the same in its unit; "
    "!: the meter did not call a reading ok"
)


def render_text(
    results: Results,
    *,
    log: LogReference | None = None,
    width: int = 100,
    colour: bool = False,
    details: bool = False,
) -> str:
    """The whole report, ending with a line end. On a simulated bench its first and last line say SIMULATED.

    ``width`` is that of the terminal; the page has 80 to 160 signs. ``colour`` adds terminal colours and
    changes no letter. A sweep is a table; ``details`` adds what is printed of a run without one, point by point.
    """
    page = page_for(width, colour)
    lines = [*page.simulated(results.simulated), *_head(results, log, page)]
    sweep = results.sweep
    if sweep:
        from benchd.report.terminal.sweep import sweep_lines, sweep_remarks

        lines += sweep_lines(sweep, page, details=details)
        lines += [text for remark in sweep_remarks(results, sweep) for text in page.warning(remark)]
    lines += [text for one in run_sections(results) for text in section_lines(one, page)]
    if not sweep:
        lines += _blocks(results, page)
    elif details:
        for row in sweep.rows:
            lines += _blocks(results, page, f"{row.point}/")
    if results.absent:
        lines += page.heading("not available", "and why")
        if sweep and not details:
            from benchd.report.terminal.sweep import absent_lines

            lines += absent_lines(results.absent, sweep, page)
        else:
            for absent in results.absent:
                lines += page.warning(f"{absent.result}: {absent.why}")
    if results.simulated:
        lines += ["", *page.simulated(True)]
    return "\n".join(lines) + "\n"


def _blocks(results: Results, page: Page, prefix: str = "") -> list[str]:
    """Every block whose name begins with ``prefix``, kind by kind."""
    return [
        text
        for kind, block in shown_blocks(results)
        if block.block.startswith(prefix)
        for text in section_lines(show_part(kind).section(block), page)
    ]


def conditions(results: Results) -> list[tuple[str, str]]:
    """How and with what it was measured: names and texts, those that are there."""
    rows = [
        ("sample", results.sample or "not named"),
        ("note", results.note),
        ("plan", f"{results.plan}, {_state(results)}"),
        ("target", judged_by(results)),
        ("readings", f"imported from {results.imported}, not taken by benchd" if results.imported else ""),
        ("begun", results.started + (" (virtual time: waits were skipped)" if results.virtual_time else "")),
        ("meter", _meter(results.meter)),
        ("corrected", _correction(results.meter.get("correction"))),
        ("repeated", _repeatability(results.meter.get("repeatability"))),
        ("screen", _screen(results.screen)),
        ("display", f"technology {results.technology}" if results.technology else ""),
        ("settings", _settings(results.settings)),
        ("warm-up", warm_up_words(results)),
        ("drift", compensation_words(results.compensation)),
        ("precision", precision_words(results.precision)),
        ("stated", stated_words(results.uncertainty, results.meter)),
        ("digits", _digits(results)),
    ]
    return [(name, printable(text)) for name, text in rows if text]


def _head(results: Results, log: LogReference | None, page: Page) -> list[str]:
    rows = [*conditions(results), ("figures", FIGURES)]
    if log:
        rows.append(("log", f"{printable(log.file)}, sha256 {log.sha256[:16]}"))
    lines = named_lines(rows, page)
    if results.interrupted:
        lines += page.warning("the run has not ended: what was not measured is absent below", "")
    for doubt in invalidation_words(results):
        lines += page.warning(doubt, "")
    return lines


def _digits(results: Results) -> str:
    """The meter's resolution, where it makes a figure less sure, or is a guess in place of a scatter."""
    names = ("",) if is_coarse(results.meter) else ("white luminance", "black luminance")
    several = [one.quantity for one in headlines(results) if one.name.startswith(names)]
    words = resolution_words(results.meter)
    return f"resolution of the meter: {words}" if words and resolution_matters(several) else ""


def invalidation_words(results: Results) -> list[str]:
    """What is doubtful, a sentence each."""
    return [
        f"in doubt: {printable(one.text)}: {count(len(one.steps), 'step')}, from {printable(one.steps[0])}"
        for one in results.doubts
    ]


def _state(results: Results) -> str:
    state = "not ended" if results.interrupted else "complete"
    sessions = f", {count(results.sessions, 'session')}" if results.sessions > 1 else ""
    return (
        f"{state}: {results.steps_done} of {count(results.steps_planned, 'step')}, "
        f"{count(results.readings, 'reading')}, {count(results.faults, 'fault')}{sessions}"
    )


def _meter(meter: Mapping[str, object]) -> str:
    text = f"{meter.get('model', 'not named')} {meter.get('serial_number', '')}".strip()
    if meter.get("firmware"):
        text += f", firmware {meter['firmware']}"
    if meter.get("driver"):
        text += f", {meter['driver']}"
    floor, ceiling = meter.get("floor_cd_m2"), meter.get("ceiling_cd_m2")
    if isinstance(floor, int | float) and isinstance(ceiling, int | float):
        text += f", specified from {floor:g} to {ceiling:g} cd/m2"
    elif isinstance(floor, int | float):
        text += f", specified from {floor:g} cd/m2"
    else:
        text += ", specified range not known"
    if meter.get("calibrated"):
        text += f", calibrated {meter['calibrated']}"
    return text


def _correction(correction: object) -> str:
    """What the readings were corrected by; empty when they stand as the meter gave them."""
    if not isinstance(correction, Mapping):
        return ""
    reference = correction["reference_meter"]
    simulated = "SIMULATED, " if correction.get("simulated") else ""
    luminance = "as the reference meter reads it" if takes_luminance(correction) else "left as it is read"
    return (
        f"by {correction['name']} ({simulated}{correction['method']} matrix for {correction['technology']}, made "
        f"{correction['made']} against {reference['model']} {reference['serial_number']}; luminance {luminance}), "
        f"file sha256 {correction['digest'][:16]}; the log keeps both"
    )


def _repeatability(found: object) -> str:
    """What the bench's own repetition puts into the uncertainty; empty where it was never repeated."""
    if not isinstance(found, Mapping):
        return ""
    names = (("between_runs", "between runs"), ("placement", "with every placement of the meter"))
    parts = [f"{100.0 * found[key][1][1] ** 0.5:.2g} % {name}" for key, name in names if found.get(key)]
    simulated = "SIMULATED " if found.get("simulated") else ""
    return f"luminance changes by {' and '.join(parts)}: found in {found['runs']} {simulated}runs on {found['made']}"


def _screen(screen: Mapping[str, object]) -> str:
    text = str(screen.get("name", "not named"))
    if screen.get("width"):
        text += f", {screen['width']} x {screen.get('height')} pixels, {screen.get('bits')} bits"
    readback = {"screen": "read back from the display server", "buffer": "read back from the draw buffer"}
    text += f", pixels {readback.get(str(screen.get('readback')), 'not read back')}"
    if screen.get("signal", "sdr") != "sdr":
        text += f", signal {SIGNALS.get(str(screen['signal']), screen['signal'])} ({screen.get('signal_by')})"
    if screen.get("gamma_ramp") == "changed":
        text += ", the display server's gamma ramp is changed"
    return text


def _scale(signal: object) -> str:
    """The scale that an HDR plan's codes stand on; "" for SDR codes."""
    return f" on {SIGNALS[signal['transfer']]}, {signal['range']} range" if isinstance(signal, Mapping) else ""


def _settings(settings: Mapping[str, object]) -> str:
    parts = []
    if "repeatability" in settings:
        most = settings.get("reading_time_at_most_s")
        parts.append(f"each patch read to a repeatability of {settings['repeatability']}, at most {most} s")
    elif "settle_s" in settings:
        dark = f" (dark {settings['dark_settle_s']} s)" if "dark_settle_s" in settings else ""
        parts.append(f"settle {settings['settle_s']} s{dark}")
    if "readings" in settings and "repeatability" not in settings:
        dark = f" (dark {settings['dark_readings']})" if "dark_readings" in settings else ""
        parts.append(f"{settings['readings']} readings a patch{dark}")
    if "order" in settings:
        seed = f", seed {settings['seed']}" if settings["order"] == "shuffled" and "seed" in settings else ""
        parts.append(f"order {settings['order']}{seed}")
    if "bits" in settings:
        parts.append(f"codes of {settings['bits']} bits{_scale(settings.get('signal'))}")
    return ", ".join(parts)
