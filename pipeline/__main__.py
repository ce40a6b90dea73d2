"""The verbs: parses words, calls run, prints what came of it. Nothing heavy is imported before it is needed."""

from __future__ import annotations

import argparse
import codecs
import os
import re
import sys
import warnings
from pathlib import Path

from pipeline import stopping
from pipeline.errors import UserError, is_full_disk, is_full_memory, printable

FITTING = ("report", "season", "calibrate", "check-fits")  # the verbs that start R


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="manyfields", description="Replicated nitrogen trials: from harvest sheets to average gains, with reports."
    )
    parser.add_argument("--version", action=_Version, nargs=0, help="the version of this program")
    verbs = parser.add_subparsers(dest="verb", required=True, metavar="VERB")
    demo = verbs.add_parser("demo", help="write the invented demo program into a folder")
    demo.add_argument("--to", type=Path, required=True, metavar="FOLDER", help="where to write it; made if missing")
    new = verbs.add_parser(
        "new", help="begin a program: a program.yml to fill in, a season folder, a workbook for cooperators"
    )
    _add_program(new)
    new.add_argument("--crops", default="corn", metavar="WORDS", help='one or several, like "corn cotton" (corn)')
    new.add_argument("--units", default="us", metavar="UNITS", help="us or metric (us)")
    _add_season(new)
    workbook = verbs.add_parser("workbook", help="the workbook for cooperators of one more season")
    _add_program(workbook)
    _add_season(workbook)
    report = verbs.add_parser("report", help="load all seasons of a program, estimate, publish its reports")
    _add_program(report)
    _add_fresh(report)
    season = verbs.add_parser("season", help="add one season folder, then do what report does; says what changed")
    season.add_argument(
        "season", type=Path, metavar="SEASON", help="folder with a season's files, named by its harvest year"
    )
    _add_program(season)
    _add_fresh(season)
    findings = verbs.add_parser(
        "findings",
        help="read and check every delivery, say what to correct, write a letter to each sender; changes nothing else",
    )
    _add_program(findings)
    findings.add_argument("--only", metavar="SENDER", help="print what one sender is asked, such as coop-01")
    claims = verbs.add_parser(
        "claims",
        help=(
            "check the claims of program.yml against the evidence; exit code 2 if one must not be printed as it stands"
        ),
    )
    _add_program(claims)
    calibrate = verbs.add_parser(
        "calibrate", help="simulate programs laid out as this one: how often do its intervals catch the truth"
    )
    _add_program(calibrate)
    calibrate.add_argument(
        "--programs",
        type=_at_least_one,
        default=200,
        metavar="N",
        help="simulated programs for each comparison and truth (200)",
    )
    check_fits = verbs.add_parser(
        "check-fits",
        help="fit every mixed model of the last report by lme4 and by this program's own code: how far do they differ",
    )
    _add_program(check_fits)
    trace = verbs.add_parser("trace", help="trace a printed estimate back to its plots, files and rows")
    trace.add_argument("estimate_id", metavar="ID", help="the short id in gray beside a printed average")
    trace.add_argument("--whole", action="store_true", help="every site-year, plot, file and row, not ten lines")
    _add_program(trace)
    plan = verbs.add_parser("plan", help="what more trials would buy, and a proposed list, from the last report")
    _add_program(plan)
    _add_program(
        verbs.add_parser(
            "cooperators",
            help="a folder of pages for each cooperator, with their own trials alone, from the last report",
        )
    )
    preview = verbs.add_parser(
        "preview", help="draw one page again from the last report, into the program's preview folder"
    )
    preview.add_argument(
        "page",
        metavar="PAGE",
        help="a crop, review, methods, index, data_dictionary, or a site-year such as quillmoor-2093",
    )
    _add_program(preview)
    layout = verbs.add_parser(
        "layout",
        help="a randomized plan and its plot workbook for a trial to plant",
        description=(
            "Takes the treatments of a trial of the program, which may be planned, randomizes each block anew and"
            " writes an .xlsx plot workbook into the program's plans/ folder. The workbook keeps the random seed;"
            " filled in, it is a delivery as it is."
        ),
    )
    layout.add_argument(
        "trial",
        metavar="TRIAL",
        help="a planned trial to lay out, or one whose treatments a new one takes, such as 2094-BB-corn",
    )
    _add_program(layout)
    layout.add_argument("--season", type=_year, metavar="YEAR", help="harvest year (the one after the last loaded)")
    layout.add_argument("--site", metavar="SITE", help="a site of the program (that of TRIAL)")
    layout.add_argument("--design", default="RCBD", help="RCBD or split-plot, zero-N then in every main plot (RCBD)")
    layout.add_argument("--blocks", type=int, default=4, metavar="N", help="number of blocks (4)")
    layout.add_argument("--seed", type=int, metavar="N", help="random seed, to make the same plan again (drawn)")
    layout.add_argument(
        "--main-plots",
        default="timing",
        metavar="COLUMN",
        help="split-plot: the treatment column on main plots (timing)",
    )
    return parser


def _open_what_is_closed() -> None:
    """Where the command was started with a stream closed, as by `>&-`, what goes there goes nowhere. Left closed, its
    number would be that of the next file to be opened, and other programs would write into it.
    """
    for name, mode in (("stdin", "r"), ("stdout", "w"), ("stderr", "w")):
        if getattr(sys, name) is None:
            setattr(sys, name, open(os.devnull, mode))
            os.set_inheritable(getattr(sys, name).fileno(), True)  # also by the programs that are started


def _quiet_libraries() -> None:
    """What libraries warn of is for those who write programs, who see it with `python -W default -m pipeline`. What a
    user should know is said in words of ours.
    """
    if not sys.warnoptions:
        warnings.simplefilter("ignore")
        os.environ.setdefault("PYTHONWARNINGS", "ignore")  # of the processes that make pages


def _plain_letters() -> str:
    """How a terminal that knows fewer letters is written to: a minus stays one, and what it lacks is a question
    mark.
    """
    known = {"\u2212": "-", "\u00a0": " ", "\u00d7": "x", "\u2501": "#", "\u254c": "."}

    def written(error: UnicodeError) -> tuple[str, int]:
        if not isinstance(error, UnicodeEncodeError):
            raise error
        return "".join(known.get(letter, "?") for letter in error.object[error.start : error.end]), error.end

    codecs.register_error("plain letters", written)
    return "plain letters"


def _year(text: str) -> int:
    if not re.fullmatch(r"[1-9]\d{3}", text):
        raise argparse.ArgumentTypeError(f'"{text}" is no year, such as 2094')
    return int(text)


def _at_least_one(text: str) -> int:
    if not re.fullmatch(r"0*[1-9]\d{0,8}", text):
        raise argparse.ArgumentTypeError(f'"{text}" is no number of one or more')
    return int(text)


class _Version(argparse.Action):
    """Looked up only when asked for."""

    def __call__(self, parser: argparse.ArgumentParser, *_) -> None:
        from pipeline.provenance import NAME, program_version

        print(f"{NAME} {program_version()}")
        parser.exit()


def _add_fresh(verb: argparse.ArgumentParser) -> None:
    verb.add_argument(
        "--fresh", action="store_true", help="make the report again though nothing changed since the last one"
    )


def _add_season(verb: argparse.ArgumentParser) -> None:
    verb.add_argument("--season", metavar="YEAR", help="harvest year (this year)")


def _add_program(verb: argparse.ArgumentParser) -> None:
    verb.add_argument(
        "--program", type=Path, required=True, metavar="FOLDER", help="folder of the program, which holds program.yml"
    )


def main(words: list[str] | None = None, **parts) -> int:
    """Runs one verb; 0 when all is well, 1 with a plain message when the user must mend something, 2 for a claim not to
    be printed, 128 and the signal's number where the user stops it.

    parts: `estimate` or `publish` of verbs.run.report, to be done another way.
    """
    is_command = words is None
    if is_command:
        _open_what_is_closed()
        _quiet_libraries()
        stopping.listen()
    chosen = None
    try:
        for stream in (sys.stdout, sys.stderr):
            stream.reconfigure(errors=_plain_letters())
        chosen = _parser().parse_args(words)
        if is_command and chosen.verb in FITTING:
            from pipeline.verbs.finding_r import make_r_findable

            make_r_findable()
        code = _done(chosen, parts)
    except BaseException as problem:
        if isinstance(problem, KeyboardInterrupt) or stopping.is_asked():
            return stopping.say_stopped(problem)
        if chosen is None or not isinstance(problem, Exception):
            raise
        code = _failed(problem, getattr(chosen, "program", None) or chosen.to)
    if is_command:
        stopping.listen_no_more()
    return code


def _done(chosen: argparse.Namespace, parts: dict) -> int:
    """Does what a verb asks for; returns the exit code."""
    if chosen.verb == "demo":
        from pipeline.verbs.run import make_demo

        make_demo(chosen.to)
    elif chosen.verb == "new":
        from pipeline.verbs.new_program import new

        new(chosen.program, chosen.crops, chosen.units, chosen.season)
    elif chosen.verb == "workbook":
        from pipeline.verbs.new_program import workbook

        workbook(chosen.program, chosen.season)
    elif chosen.verb == "findings":
        from pipeline.verbs.findings import findings

        findings(chosen.program, chosen.only)
    elif chosen.verb == "claims":
        from pipeline.verbs.answers import claims

        return claims(chosen.program)
    elif chosen.verb == "calibrate":
        from pipeline.verbs.calibrating import calibrate_program

        calibrate_program(chosen.program, chosen.programs)
    elif chosen.verb == "check-fits":
        from pipeline.verbs.checking_fits import check_fits

        check_fits(chosen.program)
    elif chosen.verb == "trace":
        from pipeline.verbs.answers import trace

        trace(chosen.estimate_id, chosen.program, whole=chosen.whole)
    elif chosen.verb == "cooperators":
        from pipeline.verbs.cooperators import pages_for_cooperators

        pages_for_cooperators(chosen.program)
    elif chosen.verb == "plan":
        from pipeline.verbs.next_trials import plan

        plan(chosen.program)
    elif chosen.verb == "preview":
        from pipeline.verbs.previewing import preview

        preview(chosen.page, chosen.program)
    elif chosen.verb == "layout":
        from pipeline.verbs.next_trials import Wanted, layout

        layout(
            chosen.program,
            Wanted(
                chosen.trial,
                chosen.season,
                chosen.site,
                chosen.design,
                chosen.blocks,
                chosen.seed,
                chosen.main_plots,
            ),
        )
    else:
        from pipeline.verbs.run import add_season, report

        if chosen.verb == "season":
            add_season(chosen.season, chosen.program, fresh=chosen.fresh, **parts)
        else:
            report(chosen.program, fresh=chosen.fresh, **parts)
    return 0


def _failed(problem: Exception, folder: Path) -> int:
    """Says what went wrong in one plain message, without a traceback; returns the exit code."""
    if is_full_disk(problem):
        said = (
            f"The disk of {folder} is full. Free some space and run this again; the warehouse is as it was before, or"
            " complete."
        )
    elif is_full_memory(problem):
        said = (
            "There is too little free memory for this. Close other programs, or deliver the largest files in parts, and"
            " run this again; the warehouse is as it was before, or complete."
        )
    elif isinstance(problem, UserError):
        said = str(problem)
    elif isinstance(problem, OSError):
        said = (
            f"{problem.filename or folder}: {problem.strerror or problem}. Check the path, who owns it and the free"
            " space."
        )
    else:
        return _our_own_fault()
    print(f"\n{printable(said)}", file=sys.stderr)
    return UserError.exit_code


def _our_own_fault() -> int:
    """A defect of ours: the user gets one plain line, the details go to a file that can be sent."""
    import tempfile
    import traceback

    try:
        with tempfile.NamedTemporaryFile(
            "w", prefix="manyfields-", suffix=".log", delete=False, encoding="utf-8", errors="backslashreplace"
        ) as log:
            log.write(traceback.format_exc())
        details = f"The details are in {log.name}; please send them."
    except OSError as problem:
        details = f"The details could not be written into the folder for temporary files ({problem.strerror})."
    print(f"\nSomething went wrong that is not your doing. {details}", file=sys.stderr)
    return 3


if __name__ == "__main__":
    sys.exit(main())
