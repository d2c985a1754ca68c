"""The commands that run plans, talk to the service, and are about the meter, on the command line."""

from benchd.cli_words import RUN_MORE
from benchd.command.options import (
    BENCH,
    CONDITION,
    FORMATS,
    NOTE,
    OF_A_SERVICE,
    PLAN,
    Command,
    formats,
    new_log,
    one_of,
    option,
    sample,
)

_DISPLAYS = ("office", "wide", "emissive", "hdr-lcd", "hdr-zone-lcd", "hdr-emissive")
_JOB = option("job", metavar="JOB", help="such as j3")

MEASURE = (
    Command(
        "demo",
        "run the whole job on a simulated bench, without any hardware",
        "An invented display is measured with the plan sdr-standard on virtual time: its waits are skipped.\n"
        "Every figure is SIMULATED.",
        lights=True,
        options=(
            option("--display", choices=_DISPLAYS, default="office", help="which display; hdr-…: plan hdr-standard"),
            option("--night", action="store_true", help="the plan of a whole night instead (about 8 h, skipped)"),
            new_log("SAMPLE"),
            formats(about="how the results are printed"),
        ),
    ),
    Command(
        "check",
        "measure white, black and contrast, in under a minute",
        "Runs the plan `quick`; its log is a whole log that `benchd results` reads too.",
        lights=True,
        options=(
            BENCH,
            sample(),
            new_log("SAMPLE"),
            formats(about="how the results are printed"),
        ),
    ),
    Command(
        "plan",
        "show what a plan would do: steps, moves, time; opens no port",
        "All errors of keys and values are reported together, each with file:line:column.\n\n"
        "--json prints benchd.planned/2: plan, bench, simulated, steps, readings, moves, warm_up, time (seconds of\n"
        "bench time), manual_blocks, manual_settings, cautions, blocks; with --steps also list, every step with\n"
        "patch, place, move and what is set before it.\n"
        "Of a plan with errors it prints them: file, line, column, text (exit code 2).",
        options=(
            PLAN,
            option("--bench", metavar="BENCH", help="bench profile, for a closer estimate"),
            option("--steps", action="store_true", help="list every step, move and setting, in the order of the run"),
            FORMATS,
        ),
    ),
    Command(
        "run",
        "run a plan on a bench and keep a log",
        RUN_MORE,
        lights=True,
        options=(
            PLAN,
            BENCH,
            sample("name of the sample: MODEL/UNIT, such as plover-27/1"),
            NOTE,
            CONDITION,
            new_log("SAMPLE"),
        ),
    ),
    Command(
        "resume",
        "go on with a paused or interrupted log",
        "Needs nothing but the log. Steps that are done are never repeated; the same meter and the same\n"
        "screen must answer.",
        lights=True,
        options=(
            option("log", metavar="LOG|JOB", help="log file, or a job of the service such as j3"),
            CONDITION,
            *OF_A_SERVICE,
        ),
    ),
)

SERVICE = (
    Command(
        "serve",
        "own a bench and run a queue of jobs, through nights and restarts",
        "The queue is on disk: a restart goes on with the job that ran. SIGTERM pauses after the reading.\n"
        "A unit for systemd comes with the profiles: systemd/benchd@.service.",
        lights=True,
        options=(
            BENCH,
            option("--folder", metavar="DIR", help="its queue and state (default: ~/.local/state/benchd/BENCH)"),
            option("--library", metavar="DIR", help="folder of the logs (default: the one that `benchd doctor` names)"),
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
                help="program and arguments (no shell) called when a job pauses, fails or completes; JSON on stdin",
            ),
            option("--webhook", default="", metavar="URL", help="the same as a POST to http://127.0.0.1:PORT/…"),
            option(
                "--log-format",
                choices=("json", "text"),
                default="json",
                help="of the lines on stderr: json with moments in UTC (default), or text in local time",
            ),
            option("--log-level", choices=("debug", "info", "warning", "error"), default="info", help="from which"),
        ),
    ),
    Command(
        "submit",
        "queue a plan with the service, and print the id of its job",
        lights=True,
        options=(
            *OF_A_SERVICE,
            PLAN,
            sample(),
            NOTE,
            CONDITION,
            option("--not-before", default="", metavar="TIME", help="18:00, or 2026-03-02T18:00, or with offset"),
            option("--priority", type=int, default=0, help="higher goes first (default: 0)"),
            option(
                "--attended",
                action="store_true",
                help="an operator is present to move or cap the meter and to set the display",
            ),
        ),
    ),
    Command(
        "jobs",
        "list the jobs of the service",
        "First the running job, then those that wait in the order in which they will run, then the paused ones, then\n"
        "the finished ones, the newest first. The share is of the run's time, the warm-up included, not of its steps.",
        options=(*OF_A_SERVICE, FORMATS),
    ),
    Command("watch", "follow the running job until it ends", options=(*OF_A_SERVICE, FORMATS)),
    Command(
        "status",
        "show what goes on; from queue and logs when no service answers",
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
        "confirm the requested move, cap or setting; or skip its point",
        lights=True,
        options=(
            *OF_A_SERVICE,
            one_of(
                option(
                    "--again",
                    dest="answer",
                    action="store_const",
                    const="again",
                    default="next",
                    help="it was not done before and is done only now, so read again",
                ),
                option(
                    "--skip",
                    dest="answer",
                    action="store_const",
                    const="skip",
                    help="it is not set: leave this point of the sweep out",
                ),
            ),
        ),
    ),
    Command("stop", "pause the running job and end the service; the queue is kept", options=(*OF_A_SERVICE,)),
)

METER = (
    Command(
        "doctor",
        "show which parts of a bench answer, and what to do about others",
        "With --bench the screen turns black and the meter takes one reading; nothing is moved, and nothing is set.\n"
        "Exit code 1 when a part does not answer.\n\n"
        "--json prints benchd.doctor/1: benchd, python, platform, libraries, library (folder of the logs); without\n"
        "--bench: ports, screens, profiles; with it: bench (name, simulated, about, answers, parts). A part has part,\n"
        "ok, text, details.",
        lights=True,
        options=(
            option("--bench", metavar="BENCH", help="check every part of this bench (name or path)"),
            FORMATS,
        ),
    ),
    Command(
        "window",
        "show what a window here can emit, or patches for a far run",
        "Without --listen the window is opened with 8 and with 10 bits and read back: black for a moment.\n"
        "With --listen it waits for one run at a time. Both machines share a secret in a token file, which is made\n"
        "when it is not there; the secret itself never goes over the network. When the link is lost the window\n"
        "turns black and closes, and the run can be resumed.",
        lights=True,
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
        "correct",
        "correct a meter for a display technology, by a reference meter",
        "Both meters read red, green, blue and white of one screen (plan four-colours), the reference meter first;\n"
        "where the operator moves meters, benchd prompts for each. Or give the logs of both runs, or a CSV file.\n"
        "What is made is a file in ./profiles/corrections. A bench that names it\n"
        "(instruments: {meter: {correction: NAME}}, technology: NAME) is read through it; every reading is kept raw\n"
        "and corrected. It is refused for another meter, another technology, and after its last day.",
        lights=True,
        options=(
            option("name", metavar="NAME", help="name of the correction, such as plover-white-led"),
            option(
                "readings",
                metavar="FILE",
                nargs="*",
                help="two logs of one screen, of the reference meter and of the meter; or one CSV file of paired "
                "readings with the columns colour, reference_X, reference_Y, reference_Z, meter_X, meter_Y, meter_Z "
                "(or _x, _y, _Y), one row a pair; several rows of a colour give the uncertainty",
            ),
            option("--reference", metavar="BENCH", help="bench with the reference meter on that screen"),
            option("--bench", metavar="BENCH", help="bench with the meter that is to be corrected"),
            option("--reference-meter", nargs=2, metavar=("MODEL", "SERIAL"), help="of a CSV file: reference meter"),
            option("--meter", nargs=2, metavar=("MODEL", "SERIAL"), help="of a CSV file: corrected meter"),
            option(
                "--method",
                choices=("four-colour", "least-squares"),
                default="four-colour",
                help="four-colour (default): from chromaticities, so a display that swings does no harm; "
                "least-squares: from X, Y, Z of all colours, luminance too",
            ),
            option(
                "--keep-luminance",
                action="store_true",
                help="four-colour: correct colour only, leave luminance as it is read",
            ),
            option("--technology", metavar="NAME", help="display technology (default: that of the meter's bench)"),
            option("--spectra", default="", help="screen, mode and spectra it was made on, for the file"),
            option("--about", default="", help="one line of description"),
            sample("name of the display in both logs"),
            option("--expires", metavar="DATE", help="last day of use (default: a year after it was made)"),
            option("-o", "--output", metavar="FILE", help="write it there (default: profiles/corrections/NAME.yaml)"),
            formats(about="how it is printed as well"),
        ),
    ),
    Command(
        "repeat",
        "run a plan n times and find how well the bench repeats itself",
        "Repeatability and reproducibility in the terms of ISO 5725: s_r between runs with the meter left in place,\n"
        "s_R with the meter put on anew, and the limits r and R that two single runs differ by at most (95 %).\n"
        "It is kept for this bench and this meter, and counted in the uncertainty of later runs. Ctrl-C pauses; the\n"
        "same command with the --logs that it names goes on.",
        lights=True,
        options=(
            option("plan", metavar="PLAN", help="plan (name or path); quick will do"),
            option(
                "runs",
                metavar="N",
                type=int,
                help="how many runs, 2 or more; ten give s_r to about 25 percent",
            ),
            BENCH,
            option(
                "--placements",
                type=int,
                default=1,
                metavar="P",
                help="take the meter off and put it on again so often that there are P placements of N/P runs each; "
                "benchd prompts for each (default 1: the meter stays)",
            ),
            sample("name of the sample that every run is of"),
            NOTE,
            option("--logs", metavar="DIR", help="folder of the logs; logs that are there already are continued"),
            option("--no-keep", action="store_true", help="print only; later runs do not count it"),
            FORMATS,
        ),
    ),
    Command(
        "new",
        "write a plan, a bench, claims or a measurement to start from",
        actions=(
            Command(
                "plan",
                "write a plan to start from, with every key explained",
                "It runs as it is written. Its comments state the unit and the range of each key, and what else it can "
                "measure; nothing is written over.",
                options=(
                    option("name", metavar="NAME", help="name of the plan, such as evening"),
                    option("-o", "--output", metavar="FILE", help="the file, or - (default: profiles/plans/NAME.yaml)"),
                ),
            ),
            Command(
                "bench",
                "write a bench to start from, with every part explained",
                "It loads as it is written; put in your own meter, its port and your screen. Nothing is written over.",
                options=(
                    option("name", metavar="NAME", help="name of the bench, such as lab-2"),
                    option(
                        "-o", "--output", metavar="FILE", help="the file, or - (default: profiles/benches/NAME.yaml)"
                    ),
                ),
            ),
            Command(
                "claims",
                "write a claim sheet to start from, with every key explained",
                "It loads as it is written; put in what the maker states, word for word. Nothing is written over.",
                options=(
                    option("name", metavar="NAME", help="name of the sheet, such as plover-28"),
                    option(
                        "-o", "--output", metavar="FILE", help="the file, or - (default: profiles/claims/NAME.yaml)"
                    ),
                ),
            ),
            Command(
                "measurement",
                "write a package with a measurement of your own, and its test",
                "The package is a whole measurement that works as written: change it into yours. Installed beside "
                "benchd, it is in plans, schemas, results, pages, comparisons, claims and the library, without a "
                "change of benchd.",
                options=(
                    option("name", metavar="NAME", help="its name in small letters, such as 'gloss ratio'"),
                    option("-o", "--output", metavar="DIR", help="the folder (default: the name, with hyphens)"),
                ),
            ),
        ),
    ),
)

HELP = (
    Command(
        "help",
        "explain a topic; without one, list the topics",
        options=(option("topic", metavar="TOPIC", nargs="*", help="a topic, or a command"),),
    ),
)
