"""``coach tally --course``: what a dog's sessions add up to."""

import argparse
import sys

from coach.cli.exits import Exit

PICTURE_ROWS = 20


def run_course(args: argparse.Namespace) -> int:
    """Print the tally over the course."""
    from coach.bedside.dogs import NoSuchDog, dog_home
    from coach.cli.regions import columns, look_here, print_drawing
    from coach.paths import SUMMARY
    from coach.record.course_tally import course_of
    from coach.record.dog_record import read_whole
    from coach.reports.course_json import over_json
    from coach.reports.course_text import over_lines, pictures

    if args.files:
        print("coach tally: --course: allowed: a DOG or its plan, no files", file=sys.stderr)
        return Exit.BAD_INPUT
    try:
        home = dog_home(args.course or None)
    except NoSuchDog as error:
        print(f"coach tally: --course: {error}", file=sys.stderr)
        return Exit.BAD_INPUT
    whole = read_whole(home.journals, home.name, kept=home.folder / SUMMARY)
    for remark in whole.remarks:
        print(remark, file=sys.stderr)
    course = course_of(whole.sums)
    if args.json:
        import json

        told = over_json(
            whole.dog, course, corrected=whole.corrected, not_counted=whole.not_counted
        )
        print(json.dumps(told, indent=2, ensure_ascii=False))
        return Exit.DONE
    if args.csv:
        from coach.handover.course_table import OVER_COLUMNS, over_rows
        from coach.handover.tables import csv_bytes
        from coach.shown import plain

        table = csv_bytes(OVER_COLUMNS, over_rows(whole.dog, course)).decode()
        sys.stdout.buffer.write(plain(table).encode())
        sys.stdout.flush()
        return Exit.DONE
    look = args.look or look_here()
    lines = over_lines(
        whole.dog, course, corrected=whole.corrected, not_counted=whole.not_counted, look=look
    )
    print("\n".join(lines))
    for drawing in pictures(course, width=columns(), height=PICTURE_ROWS, look=look):
        print()
        print_drawing(drawing)
    return Exit.DONE
