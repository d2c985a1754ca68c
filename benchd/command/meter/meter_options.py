"""The commands about the meter itself, `correct` and `repeat`, as the command line knows them."""

from __future__ import annotations

from benchd.command.options import Command, option

METER = (
    Command(
        "correct",
        "make a correction of one meter for one display technology, against a reference meter",
        "Both meters read red, green, blue and white of one screen (plan four-colours), the reference meter first;\n"
        "where the operator moves meters, benchd prompts for each. Or give the logs of both sittings, or a CSV file.\n"
        "What is made is a file in ./profiles/corrections. A bench that names it\n"
        "(instruments: {meter: {correction: NAME}}, technology: NAME) is read through it; every reading is kept raw\n"
        "and corrected. It is refused for another meter, another technology, and after its last day.",
        options=(
            option("name", metavar="NAME", help="name of the correction, such as plover-white-led"),
            option("--reference", metavar="BENCH", help="bench with the reference meter on that screen"),
            option("--bench", metavar="BENCH", help="bench with the meter that is to be corrected"),
            option("--logs", nargs=2, metavar=("REFERENCE.log", "METER.log"), help="two logs of one screen instead"),
            option(
                "--csv",
                metavar="FILE",
                help="paired readings instead: columns colour, reference_X, reference_Y, reference_Z, meter_X, "
                "meter_Y, meter_Z (or _x, _y, _Y), one row a pair; several rows of a colour give the uncertainty",
            ),
            option("--reference-meter", nargs=2, metavar=("MODEL", "SERIAL"), help="with --csv: the reference meter"),
            option("--meter", nargs=2, metavar=("MODEL", "SERIAL"), help="with --csv: the meter to be corrected"),
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
            option("--about", default="", help="one line for whoever looks for a correction"),
            option("--sample", default="correction", help="name of the display in the logs of both sittings"),
            option("--expires", metavar="DATE", help="last day of use (default: a year after it was made)"),
            option("--out", metavar="FILE", help="keep it there (default: profiles/corrections/NAME.yaml)"),
            option("--json", action="store_true", help="print it as JSON"),
        ),
    ),
    Command(
        "repeat",
        "run a plan n times and find how well the bench repeats itself",
        "Repeatability and reproducibility in the terms of ISO 5725: s_r between runs with the meter left in place,\n"
        "s_R with the meter put on anew, and the limits r and R that two single runs differ by at most (95 %).\n"
        "It is kept for this bench and this meter, and counted in the uncertainty of later runs. Ctrl-C pauses; the\n"
        "same command with the --folder that it names goes on.",
        options=(
            option("plan", metavar="PLAN", help="plan (name or path); quick will do"),
            option("runs", metavar="N", type=int, help="how many runs, 2 or more; ten tell s_r to about 25 percent"),
            option("--bench", required=True, metavar="BENCH", help="bench profile (name or path)"),
            option(
                "--placements",
                type=int,
                default=1,
                metavar="P",
                help="take the meter off and put it on again so often that there are P placements of N/P runs each; "
                "benchd asks for it (default 1: the meter stays)",
            ),
            option("--sample", default="repeat", help="name of the sample, such as plover-27/1"),
            option("--note", default="", help="a note for the logs: preset, brightness, cable"),
            option("--folder", metavar="DIR", help="logs go there; one that holds some of them is gone on with"),
            option("--no-keep", action="store_true", help="tell only; later runs do not count it"),
            option("--json", action="store_true", help="print it as JSON"),
        ),
    ),
)
