"""The commands about the meter itself, `correct` and `repeat`, on the command line."""

from __future__ import annotations

from benchd.command.options import FORMATS, Command, formats, option

METER = (
    Command(
        "correct",
        "make a correction of one meter for one display technology, against a reference meter",
        "Both meters read red, green, blue and white of one screen (plan four-colours), the reference meter first;\n"
        "where the operator moves meters, benchd prompts for each. Or give the logs of both runs, or a CSV file.\n"
        "What is made is a file in ./profiles/corrections. A bench that names it\n"
        "(instruments: {meter: {correction: NAME}}, technology: NAME) is read through it; every reading is kept raw\n"
        "and corrected. It is refused for another meter, another technology, and after its last day.",
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
            option("--sample", default="correction", help="name of the display in both logs"),
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
        options=(
            option("plan", metavar="PLAN", help="plan (name or path); quick will do"),
            option(
                "runs",
                metavar="N",
                type=int,
                help="how many runs, 2 or more; ten give s_r to about 25 percent",
            ),
            option("--bench", required=True, metavar="BENCH", help="bench profile (name or path)"),
            option(
                "--placements",
                type=int,
                default=1,
                metavar="P",
                help="take the meter off and put it on again so often that there are P placements of N/P runs each; "
                "benchd prompts for each (default 1: the meter stays)",
            ),
            option("--sample", default="repeat", help="name of the sample, such as plover-27/1"),
            option("--note", default="", help="a note for the logs: preset, brightness, cable"),
            option("--logs", metavar="DIR", help="folder of the logs; logs that are there already are continued"),
            option("--no-keep", action="store_true", help="print only; later runs do not count it"),
            FORMATS,
        ),
    ),
)
