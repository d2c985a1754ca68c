"""The commands that read logs: their results, printed or turned into something for others, on the command line."""

from benchd.command.log_names import log_named
from benchd.command.options import LOG, LOGS, TARGET, YES, Command, formats, option

COMPARE_MORE = """\
Every figure that two samples share: both values, the difference with its uncertainty, and a verdict:
  different       beyond what chance explains (all differences judged together: 5 % at most)
  equivalent      the difference is shown to be smaller than the margin
  inconclusive    neither; the text states how many more readings it would take, where that is known
Both can be true: a difference that is real and does not matter. Differences are from the first sample.

  benchd compare a.log b.log
  benchd compare --model plover=1.log,2.log,3.log --model curlew=4.log,5.log
  benchd compare a.log b.log --margin contrast=5% --margin "white CCT=150"

A margin is the largest difference that does not matter to you, in the figure's unit or in % of the mean of both
figures, so that the order of the logs changes no verdict. The names of figures are those that the text shows. Without
--margin: common practice (luminance 2 %, black and contrast 5 %, u'v' 0.004, CCT 100 K, dE00 and dE ITP 0.5,
gamma 0.05, percentages 1 point)."""

CLAIMS_MORE = """\
A sheet is YAML with one line a claim, such as `claim: white luminance >= 350 cd/m2`, each with the maker's
wording and conditions; benchd comes with an invented one: profiles/claims/plover-27.yaml, keys in profiles/KEYS.md.
Verdicts leave a guard band of one expanded uncertainty on either side of the limit (method after JCGM 106):
  met, not met       the whole 95 % coverage interval is within or outside the claim
  inconclusive       the interval holds the limit, or the uncertainty is not known
  point not named    a log has the figure at several points of a sweep, and the claim names none of them
  not measured       no log has the figure
Several logs: a claim that one of them does not meet is not met.

Of a log that sweeps the display's settings a claim names its point, `white luminance at brightness=100 >= 350 cd/m2`,
or its conditions do, `brightness 100, preset standard`, or --at does for all claims that name none. Where several
points are left none is picked; the text then names one that can be written.

  benchd claims plover-27 run.log
  benchd claims plover-27 sweep.log --at 'brightness=100'"""

CLAIMS_AT = option(
    "--at",
    default="",
    metavar="POINT",
    help="of logs that sweep the display's settings the point of all claims that name none, such as 'brightness=100'",
)

RESULTS = (
    Command(
        "results",
        "compute and print the results of a log, on one screen",
        options=(
            option(
                "log",
                metavar="LOG",
                nargs="?",
                type=log_named,
                help="log file, one that is still being written too; or a log or a sample of the library",
            ),
            TARGET,
            option("--details", action="store_true", help="all of it: conditions, every table, every point of a sweep"),
            option(
                "--block",
                metavar="NAME",
                help="all of one block, as the plan names it; of a sweep at every point, or at one: POINT/NAME, or "
                "POINT for every block there; also with --json and other data",
            ),
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
                about="json: benchd.results/2; csv: one row a quantity; parquet: the same table (needs --output, and "
                "pyarrow); colour-text: code and X, Y, Z of every patch in the open text format for colour data (after "
                "ISO 28178)",
            ),
            option("-o", "--output", default="-", metavar="FILE", help="write it there (default: -, stdout)"),
            YES,
        ),
    ),
    Command(
        "replay",
        "run a log's plan again, with its recorded readings as the meter",
        "Reports whether the results are identical, number for number.",
        options=(
            LOG,
            option("--log", dest="new", metavar="FILE", help="keep the new log there"),
        ),
    ),
    Command(
        "log",
        "verify a log, or salvage a damaged one",
        actions=(
            Command(
                "verify",
                "check every line: check sums, sequence, completeness",
                options=(LOGS,),
            ),
            Command(
                "salvage",
                "write what is sound of a damaged log to a new file",
                options=(
                    option("log", metavar="LOG", help="damaged log file; it is left as it is"),
                    option("--log", dest="new", required=True, metavar="FILE", help="keep the new log there"),
                ),
            ),
        ),
    ),
    Command(
        "report",
        "write one page of a log, or of several: figures, plots, tables",
        "The page is one HTML file that needs nothing else, on a screen, a phone or paper. Figures in which a\n"
        "simulator took part are marked so, and so are plots.",
        options=(
            LOGS,
            option("-o", "--output", metavar="PAGE.html", help="write the page there (- is stdout)"),
            YES,
            option("--plots", metavar="DIR", help="also write every plot as SVG and PNG into this folder"),
            option("--claims", metavar="SHEET", help="hold the claims of this sheet against it (name or path)"),
            CLAIMS_AT,
            TARGET,
        ),
    ),
    Command(
        "publish",
        "write a folder that anyone can compute again: page, data, logs",
        "The folder is written whole or not at all. benchd recheck computes every figure in it again from the logs.",
        options=(
            LOGS,
            option("-o", "--output", metavar="FOLDER", required=True, help="a new folder for all of it"),
            option("--claims", metavar="SHEET", help="hold the claims of this sheet against it (name or path)"),
            CLAIMS_AT,
            TARGET,
            option("--yes", action="store_true", help="replace an earlier publication"),
        ),
    ),
    Command(
        "recheck",
        "compute a published folder again, and name what differs",
        "With the versions that computed it every file must be the same to the bit; with others figures must agree to\n"
        "the digits that are printed. Exit status 1 where anything differs.",
        options=(
            option("folder", metavar="FOLDER", help="a folder that benchd publish wrote"),
            formats(about="how it is printed; json: benchd.recheck/1"),
        ),
    ),
    Command(
        "compare",
        "say where displays are different, equivalent, or inconclusive",
        COMPARE_MORE,
        options=(
            option(
                "logs",
                metavar="LOG",
                nargs="*",
                type=log_named,
                help="log files, or logs or samples of the library; the first is what the others differ from",
            ),
            option(
                "--model",
                metavar="NAME=LOG,LOG",
                action="append",
                default=[],
                help="several logs of one model, as one sample",
            ),
            option(
                "--margin",
                metavar="FIGURE=SIZE",
                action="append",
                default=[],
                help="such as contrast=5%% or gamma=0.05",
            ),
            option(
                "--at",
                default="",
                metavar="POINT",
                help="of logs that sweep the display's settings this point alone, such as 'brightness=100'",
            ),
            option(
                "--same-panel",
                action="store_true",
                help="also: do they have the same panel? the evidence for and against",
            ),
            option("--target", metavar="TARGET", help="judge all against another target (name or path)"),
            option("-o", "--output", metavar="PAGE.html", help="write a page with overlaid plots (- is stdout)"),
            YES,
            option("--plots", metavar="DIR", help="write every plot as SVG and PNG into this folder"),
            formats(about="how it is printed; json: benchd.comparison/1"),
        ),
    ),
    Command(
        "claims",
        "hold a maker's claims against what was measured",
        CLAIMS_MORE,
        options=(
            option("sheet", metavar="SHEET", help="claim sheet (name or path)"),
            LOGS,
            CLAIMS_AT,
            TARGET,
            formats(about="how it is printed; json: benchd.claims/1"),
        ),
    ),
)
