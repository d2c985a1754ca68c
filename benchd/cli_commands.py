"""The commands that run plans, talk to the service, and read logs, on the command line."""

from __future__ import annotations

from benchd.cli_words import CAUTION, RUN_MORE
from benchd.command.options import FORMATS, OF_A_SERVICE, Command, formats, option

_DISPLAYS = ("office", "wide", "emissive", "hdr-lcd", "hdr-zone-lcd", "hdr-emissive")
_JOB = option("job", metavar="JOB", help="such as j3")

MEASURE = (
    Command(
        "demo",
        "run the main job on a simulated bench, without hardware or screen",
        "An invented display is measured with the plan sdr-standard on virtual time: its waits are skipped.\n"
        "Every figure is SIMULATED.",
        options=(
            option("--display", choices=_DISPLAYS, default="office", help="which display; hdr-…: plan hdr-standard"),
            option("--night", action="store_true", help="the plan of a whole night instead (about 8 h, skipped)"),
            option("--log", metavar="FILE", help="keep the log there (default: logs/demo/TIME.log)"),
            formats(about="how the results are printed"),
        ),
    ),
    Command(
        "check",
        "quick brightness and contrast: white, black, centre chromaticity, in under a minute",
        "Runs the plan `quick`; its log is a whole log that `benchd results` reads too.",
        options=(
            option("--bench", required=True, metavar="BENCH", help="bench profile (name or path)"),
            option("--sample", default="check", help="name of the sample (default: check)"),
            option("--log", metavar="FILE", help="keep the log there (default: checks/TIME.log)"),
            formats(about="how the results are printed"),
        ),
    ),
    Command(
        "plan",
        "list what a plan would do: steps, moves, estimated time; opens no port",
        "All errors in a plan are reported together, each with file:line:column.\n\n"
        "--json prints benchd.planned/2: plan, bench, simulated, steps, readings, moves, warm_up, time (seconds of\n"
        "bench time), manual_blocks, cautions, blocks; with --steps also list, every step with patch, place and move.\n"
        "Of a plan with errors it prints them: file, line, column, text (exit code 2).",
        options=(
            option("plan", metavar="FILE", help="plan (name or path)"),
            option("--bench", metavar="BENCH", help="bench profile, for a closer estimate"),
            option("--steps", action="store_true", help="list every step and every move"),
            FORMATS,
        ),
    ),
    Command(
        "run",
        "run a plan on a bench and keep a log",
        RUN_MORE + CAUTION,
        options=(
            option("plan", metavar="FILE", help="plan (name or path)"),
            option("--bench", required=True, metavar="BENCH", help="bench profile (name or path)"),
            option("--sample", default="sample", help="name of the sample: MODEL/UNIT, such as plover-27/1"),
            option("--note", default="", help="a note for the log: preset, brightness, cable"),
            option("--log", metavar="FILE", help="keep the log there (default: logs/SAMPLE/TIME.log)"),
        ),
    ),
    Command(
        "resume",
        "go on with a paused or interrupted log",
        "Needs nothing but the log. Steps that are done are never repeated; the same meter and the same\n"
        "screen must answer.",
        options=(
            option("log", metavar="LOG|JOB", help="log file, or a job of the service such as j3"),
            *OF_A_SERVICE,
        ),
    ),
)

SERVICE = (
    Command(
        "serve",
        "own a bench and run a queue of jobs, through nights and restarts",
        "The queue is on disk: a restart goes on with the job that ran. SIGTERM pauses after the reading.\n"
        "A unit for systemd comes with the profiles: systemd/benchd@.service.\n\n" + CAUTION,
        options=(
            option("--bench", required=True, metavar="BENCH", help="bench profile (name or path)"),
            option("--folder", metavar="DIR", help="queue and logs (default: ~/.local/state/benchd/BENCH)"),
            option("--socket", metavar="PATH", help="socket that it answers at (default: in the runtime folder)"),
            option(
                "--http",
                type=int,
                metavar="PORT",
                help="also a page on 127.0.0.1:PORT (0: any free one); its link is in the folder",
            ),
            option(
                "--on-event",
                default="",
                metavar="COMMAND",
                help="called when a job pauses, fails or completes; JSON on stdin",
            ),
            option("--webhook", default="", metavar="URL", help="the same as a POST to http://127.0.0.1:PORT/…"),
            option("--log-format", choices=("json", "text"), default="json", help="of the lines on stderr"),
            option("--log-level", choices=("debug", "info", "warning", "error"), default="info", help="from which"),
        ),
    ),
    Command(
        "submit",
        "queue a plan with the service; the job's id goes to stdout",
        options=(
            *OF_A_SERVICE,
            option("plan", metavar="FILE", help="plan (name or path)"),
            option("--sample", default="sample", help="name of the sample, such as plover-27/1"),
            option("--note", default="", help="a note for the log: preset, brightness, cable"),
            option("--not-before", default="", metavar="TIME", help="18:00, or 2026-03-02T18:00, or with offset"),
            option("--priority", type=int, default=0, help="higher goes first (default: 0)"),
            option(
                "--attended",
                action="store_true",
                help="an operator is present to move or cap the meter and to set the display",
            ),
        ),
    ),
    Command("jobs", "list the jobs of the service, in the order in which they run", options=(*OF_A_SERVICE, FORMATS)),
    Command("watch", "follow the running job until it ends", options=(*OF_A_SERVICE, FORMATS)),
    Command(
        "status",
        "what goes on; from the queue and the logs when no service answers",
        options=(
            *OF_A_SERVICE,
            option("--folder", metavar="DIR", help="folder of a service that is not in its usual place"),
            FORMATS,
        ),
    ),
    Command("pause", "pause a job after its reading; hold a queued one", options=(*OF_A_SERVICE, _JOB)),
    Command("cancel", "take a job out of the queue, or end the running one", options=(*OF_A_SERVICE, _JOB)),
    Command(
        "next",
        "the operator confirms the requested step: a move, the cap, a setting",
        options=(
            *OF_A_SERVICE,
            option("--again", action="store_true", help="it was not done before and is done only now, so read again"),
        ),
    ),
    Command("stop", "pause the running job and end the service; the queue is kept", options=(*OF_A_SERVICE,)),
)

READ = (
    Command(
        "results",
        "compute and print the results of a log",
        options=(
            option("log", metavar="LOG", help="log file; one that is still being written is fine"),
            option("--target", metavar="TARGET", help="judge against another target (name or path)"),
            option("--details", action="store_true", help="every block of every point of a sweep"),
            option(
                "--no-compensation",
                action="store_true",
                help="do not correct the drift of the reference patch, whatever the plan states",
            ),
            option(
                "--budget",
                metavar="FIGURE",
                nargs="?",
                const="",
                help="where the uncertainty comes from: of the main figures, or of one that is named as they are or by "
                "its path in the CSV, such as contrast/sequential/ratio; also with --json",
            ),
            option(
                "--cross-check",
                action="store_true",
                help="compute every colour figure again with colour-science, an independent library, and print the "
                "largest deviation of each kind; exit status 1 beyond its tolerance; also with --json",
            ),
            formats(
                "csv",
                "parquet",
                "colour-text",
                about="json: benchd.results/1; csv: one row a quantity; parquet: the same table (needs --output, and "
                "pyarrow); colour-text: code and X, Y, Z of every patch in the open text format for colour data (after "
                "ISO 28178)",
            ),
            option("-o", "--output", default="-", metavar="FILE", help="write it there (default: -, stdout)"),
        ),
    ),
    Command(
        "replay",
        "run the plan of a log again with its recorded readings as the meter",
        "Reports whether the results are identical, number for number.",
        options=(
            option("log", metavar="LOG", help="log file"),
            option("--log", dest="new", metavar="FILE", help="keep the new log there"),
        ),
    ),
    Command(
        "doctor",
        "which ports, screens and parts of a bench answer, and what to do about those that don't",
        "With --bench the screen turns black and the meter takes one reading; nothing is moved, and nothing is set.\n"
        "Exit code 1 when a part does not answer.\n\n"
        "--json prints benchd.doctor/1: benchd, python, platform, libraries; without --bench: ports, screens,\n"
        "profiles; with it: bench (name, simulated, about, answers, parts). A part has part, ok, text, details.",
        options=(
            option("--bench", metavar="BENCH", help="check every part of this bench (name or path)"),
            FORMATS,
        ),
    ),
    Command(
        "new",
        "write a package with a measurement of your own, and its test",
        "The package is a whole measurement that works as written: change it into yours. Installed beside benchd, it\n"
        "is in plans, schemas, results, pages, comparisons, claims and the library, without a change of benchd.",
        actions=(
            Command(
                "measurement",
                "a measurement",
                options=(
                    option("name", metavar="NAME", help="its name in small letters, such as 'gloss ratio'"),
                    option("--output", metavar="DIR", help="the folder (default: the name, with hyphens)"),
                ),
            ),
        ),
    ),
    Command(
        "window",
        "what this computer's window can emit; with --listen, show patches for a run on another machine",
        "Without --listen the window is opened with 8 and with 10 bits and read back: black for a moment.\n"
        "With --listen it waits for one run at a time. Both machines share a secret in a token file, which is made\n"
        "when it is not there; the secret itself never goes over the network. When the link is lost the window\n"
        "turns black and closes, and the run can be resumed.",
        options=(
            option("--listen", metavar="ADDRESS:PORT", help="wait for a run there; port 0: any free one"),
            option("--token-file", metavar="FILE", help="the shared secret (default: window.token)"),
            option("--monitor", default="primary", metavar="NAME", help="an output's name, or primary"),
            option("--bits", type=int, choices=(8, 10), default=8, help="bits a channel, with --listen"),
            option(
                "--signal",
                choices=("sdr", "pq", "hlg"),
                help="with --listen: what the cable carries, where you have set that up",
            ),
            formats(about="how it is printed, without --listen"),
        ),
    ),
    Command(
        "log",
        "verify a log, or salvage a damaged one",
        actions=(
            Command(
                "verify",
                "check every line: check sums, sequence, completeness",
                options=(option("logs", metavar="LOG", nargs="+", help="log files"),),
            ),
            Command(
                "salvage",
                "write what is sound of a damaged log to a new file",
                options=(
                    option("log", metavar="LOG", help="damaged log file; it is left as it is"),
                    option("new", metavar="NEW", help="new log file"),
                ),
            ),
        ),
    ),
)
