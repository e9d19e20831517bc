"""``coach trend``: the owner's own scores over time, beside what was given."""

import argparse
import sys

from coach.cli.exits import Exit


def add(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add the command to the command line."""
    command = commands.add_parser(
        "trend",
        help="the owner's own scores over time, beside the dose",
        description="Show the scores of coach score over time, above what was given in the same "
        "days, with a slope and its interval. With fewer than five it is too early to say.",
    )
    command.add_argument("dog", nargs="?", metavar="DOG", help="a dog or its plan")
    command.add_argument("--json", action="store_true", help="machine-readable")
    command.add_argument("--look", choices=("colour", "console"), help="characters of the picture")
    command.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Print the trend."""
    from coach.bedside.dogs import NoSuchDog, dog_home
    from coach.cli.regions import columns, look_here
    from coach.paths import SUMMARY
    from coach.record.dog_record import read_whole
    from coach.reports.trend_text import doses_of, series_of, trend_lines

    try:
        home = dog_home(args.dog)
    except NoSuchDog as error:
        print(f"coach trend: DOG: {error}", file=sys.stderr)
        return Exit.BAD_INPUT
    whole = read_whole(home.journals, home.name, kept=home.folder / SUMMARY)
    for remark in whole.remarks:
        print(remark, file=sys.stderr)
    instrument = "" if home.plan is None else home.plan.scores.instrument
    series, left_out = series_of(
        [(told.wall, told.trust, told.entry) for told in whole.diary.told],
        dog=home.name,
        instrument=instrument,
    )
    doses = doses_of(whole.briefs)
    if args.json:
        import json

        from coach.reports.trend_json import trend_json

        print(json.dumps(trend_json(home.name, series, doses), indent=2, ensure_ascii=False))
        return Exit.DONE
    look = args.look or look_here()
    print("\n".join(trend_lines(series, doses, left_out=left_out, width=columns(), look=look)))
    return Exit.DONE
