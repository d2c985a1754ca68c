"""The words of `benchd library` and of `benchd import`: their actions and options, and what each is for."""

from benchd.command.options import FORMATS, NOTE, YES, Command, new_log, one_of, option, sample

ABOUT_LIBRARY = """\
A library is a folder with logs anywhere below it: without --library the one in which benchd keeps all logs, which
`benchd doctor` names (BENCHD_LIBRARY in the environment is another one); beside it are read what earlier versions kept
in ./logs, in ./checks and with each service. A log in two of them counts once; one without a sample's name is a sample
of its own. In the folder stands an index (benchd-library.sqlite), a database that is made from the logs and
can be made again at any time: the logs are the truth, and nothing is lost with it.
Every action first looks for new, changed and removed logs; only those are read. Damaged logs are listed, the others
still count.

  benchd library list                                    what was measured, with its main figures
  benchd library rank contrast                           best first, in groups without a significant difference
  benchd library query 'contrast >= 1000 and sample = plover-27/*'
  benchd library show plover-27/1                        everything of one sample
  benchd library site -o ranks.html                      a page of it all, for a browser, without a network

A figure has the name that reports and comparisons give it ("white luminance", contrast, "white CCT"), a short one
(white, cct), or its path in the results, such as uniformity/white/r2c3/luminance; hyphens may stand for blanks.
`benchd library list --figures` names them all. Of a log that sweeps the display's settings these are the figures of the
point with the highest white luminance, named in every row; each point has its own figures as well, such as
"contrast at brightness=50"."""

ABOUT_CONDITION = """\
Conditions: NAME SIGN VALUE, joined by and, or, not and brackets. SIGN is = != < <= > >=. NAME is a figure, or a fact
of the run: sample, model, plan, target, note, started, meter, screen, log, file, imported; simulated, complete and
stated (something is, of the meter) are yes or no. In texts * stands for any signs; words with blanks go in "quotes".

  contrast >= 1000 and sample = plover-27/*
  white >= 350 cd/m2 and not (simulated = yes or complete = no)
  started >= 2026-03-01 and note = "*low blue*"

A bound such as > 82 000 fulfils what it surely fulfils. Samples where it is inconclusive are counted, not shown."""

ABOUT_IMPORT = """\
The file has a line of column names, then a line a reading, in the order in which they were taken. Several lines of one
step are its repeated readings. Where semicolons or tabs stand between the columns, numbers may have a decimal comma.

  step              a step of the plan, as `benchd plan PLAN --steps` lists them; or else
  red,green,blue    the code that was shown, where it fits one step only (and place, such as r2c3, for a grid)
  X,Y,Z or Y,x,y    the reading; Y is the luminance in --unit. Y alone is enough for what needs no colour
  status            ok (or empty), under, over, unstable: as the meter reported; may be empty for under and over
  time_s            seconds since the first reading, where known; a plan with a reference patch needs them
  after_s           for readings over time (peak, sustained): seconds from the window's appearance to the reading

`benchd import --plan PLAN --template` prints such a file with every step of the plan, to be filled in.
The log and every result of it state that its readings were imported, and from which file. A text file of the
open format for colour data (ISO 28178), as `benchd results LOG --format colour-text` writes it, is read too."""


_ABOUT_RANK = """\
Two figures differ significantly when they differ by more than the expanded uncertainty of their difference;
what two logs of one meter share, such as its scale, cancels in it (of figures named by a path that is not
known: there the root of the sum of the squares of both uncertainties counts). A group begins with the best
that is left and holds those that do not differ significantly from it; '=' marks a rank that
is shared, '?' a figure without an uncertainty.

"""

_OF_A_LIBRARY = (
    option("--library", metavar="DIR", help="folder of the logs (default: see above, and what `benchd doctor` names)"),
    option("--index", metavar="FILE", help="keep the index there (default: in the folder)"),
)
_CHOICE = (
    option("--where", default="", metavar="CONDITION", help="only those (see `benchd library query -h`)"),
    option("--latest", action="store_true", help="only the newest log of every sample"),
)

LIBRARY = (
    Command(
        "library",
        "list, rank, filter and publish everything that was measured",
        ABOUT_LIBRARY,
        actions=(
            Command(
                "add",
                "copy logs into the folder of the library, and read them",
                "A log is named after its sample.",
                options=(
                    *_OF_A_LIBRARY,
                    option("logs", metavar="LOG", nargs="+", help="log files; they stay where they are"),
                ),
            ),
            Command(
                "list",
                "list the samples with their main figures, and the logs that are damaged",
                options=(
                    *_OF_A_LIBRARY,
                    option("--figures", action="store_true", help="the names of all figures instead"),
                    *_CHOICE,
                    FORMATS,
                ),
            ),
            Command(
                "show",
                "show all that is known of one sample",
                options=(
                    *_OF_A_LIBRARY,
                    option(
                        "sample", metavar="SAMPLE|LOG", help="name of a sample, file of a log, or start of its digest"
                    ),
                    option("--details", action="store_true", help="every figure, not only the main ones"),
                    FORMATS,
                ),
            ),
            Command(
                "rank",
                "put the samples in the order of a figure, in groups without a significant difference",
                _ABOUT_RANK + ABOUT_CONDITION,
                options=(
                    *_OF_A_LIBRARY,
                    option("figure", metavar="FIGURE", help="such as contrast"),
                    one_of(
                        option("--highest", action="store_true", help="the highest first (default: what is better)"),
                        option("--lowest", action="store_true", help="the lowest first"),
                    ),
                    option(
                        "--limit", type=int, default=50, metavar="N", help="so many lines at most (default: 50; 0: all)"
                    ),
                    *_CHOICE,
                    FORMATS,
                ),
            ),
            Command(
                "query",
                "list the samples that fulfil a condition",
                ABOUT_CONDITION,
                options=(
                    *_OF_A_LIBRARY,
                    option(
                        "condition", metavar="CONDITION", help="such as 'contrast >= 1000'; in quotes, for the shell"
                    ),
                    option("--show", default="", metavar="FIGURES", help="figures to show, with commas between"),
                    option("--surely", action="store_true", help="only those whose whole 95 %% interval fulfils it"),
                    option("--latest", action="store_true", help="only the newest log of every sample"),
                    FORMATS,
                ),
            ),
            Command(
                "rebuild", "make the index again from the logs alone", "No log is touched.", options=(*_OF_A_LIBRARY,)
            ),
            Command(
                "export",
                "write every figure of the library to a file, one row a figure",
                options=(
                    *_OF_A_LIBRARY,
                    option(
                        "--format",
                        choices=("csv", "parquet"),
                        default="csv",
                        help="the columns of `benchd results LOG --format csv`, as CSV (default) or Parquet (needs "
                        "pyarrow: the extra `parquet`)",
                    ),
                    option("-o", "--output", required=True, metavar="FILE", help="where it is written"),
                    YES,
                    *_CHOICE,
                ),
            ),
            Command(
                "site",
                "write a page that compares the whole library, for any browser, without a network",
                "One file with everything in it: a table that is sorted and filtered, and plots. Also by keyboard, on\n"
                "a phone, and in print.\n\n" + ABOUT_CONDITION,
                options=(
                    *_OF_A_LIBRARY,
                    option(
                        "-o", "--output", required=True, metavar="FILE", help="the page; a folder gets an index.html"
                    ),
                    option("--title", default="", help="its title (default: the folder's name)"),
                    YES,
                    *_CHOICE,
                ),
            ),
        ),
    ),
    Command(
        "import",
        "make a log of readings that were taken elsewhere",
        ABOUT_IMPORT,
        options=(
            option("readings", metavar="FILE", nargs="?", help="the readings, CSV or ISO 28178 text"),
            option("--plan", required=True, metavar="PLAN", help="the plan that they answer (name or path)"),
            option("--template", action="store_true", help="print an empty file for this plan instead"),
            sample(),
            NOTE,
            option("--meter", nargs=2, default=(), metavar=("MODEL", "SERIAL"), help="which meter it was"),
            option("--unit", choices=("cd/m2", "fL"), default="cd/m2", help="of X, Y and Z (default: cd/m2)"),
            option(
                "--bench",
                metavar="BENCH",
                help="bench whose meter it was: its range, resolution and stated uncertainty count",
            ),
            option("--floor", type=float, metavar="CD_M2", help="lowest luminance that the meter is specified for"),
            option("--simulated", action="store_true", help="a simulator took part: every result is marked so"),
            new_log("SAMPLE"),
        ),
    ),
)
