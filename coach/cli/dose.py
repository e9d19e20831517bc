"""``coach dose``: any two of power, time and energy give the rest. It counts, no more."""

import argparse
import re
import sys
from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction
from typing import TYPE_CHECKING

from coach.cli.exits import Exit

if TYPE_CHECKING:
    from coach.dose.quantity import BadQuantity, Quantity
    from coach.dose.solve import Solution

# What people type, and the quantity it is.
NAMES: "Mapping[str, Quantity]" = {
    "mean-power": "mean_power_mw",
    "peak-power": "peak_power_mw",
    "duty-cycle": "duty_cycle_percent",
    "pulse-width": "pulse_width_us",
    "frequency": "frequency_hz",
    "pulse-energy": "pulse_energy_uj",
    "time": "duration_s",
    "energy": "energy_j",
    "area": "beam_area_cm2",
    "diameter": "diameter_mm",
    "irradiance": "irradiance_mw_cm2",
    "fluence": "fluence_j_cm2",
    "swept-area": "swept_area_cm2",
    "swept-fluence": "swept_fluence_j_cm2",
    "aperture-area": "aperture_area_cm2",
}
# The words of a plan for the same: a treated area is swept.
ALSO = {"treated-area": "swept-area", "treated-fluence": "swept-fluence"}
HELP = {
    "mean-power": "mean power, as 800mW or 0.5W",
    "peak-power": "power during a pulse, as 70W",
    "duty-cycle": "share of the time that a pulsed head is on, as 50%%",
    "pulse-width": "as 60ns or 3ms",
    "frequency": "pulses a second, as 9500Hz",
    "pulse-energy": "energy of one pulse, as 4.2uJ",
    "time": "on one spot, as 90s, 1:30, 1m30s or 2min",
    "energy": "on one spot, as 4J",
    "area": "beam area at the skin, as 0.5cm2; not the opening of the head",
    "diameter": "of a round beam at the skin, as 8mm, in place of the area",
    "irradiance": "power on the beam area, as 120mW/cm2",
    "fluence": "energy on the beam area, as 4J/cm2",
    "swept-area": "whole area that the head moves over, as 100cm2",
    "swept-fluence": "mean energy on the swept area, as 3.5J/cm2",
    "aperture-area": "opening of the head, as 0.1cm2: only to recognise a slip",
}
COUNTS = {"spots": "equal spots in a session", "sessions": "sessions in the course"}
MOST = 10_000

PRESCRIBES_NOTHING = (
    "Counted from what you typed; nothing was measured. This prescribes nothing: the prescriber's "
    "plan and the laser-safety rules where you live decide."
)

EPILOG = """\
Give what you know, as --NAME VALUE or NAME=VALUE, each value with its unit:

  any two of mean power, time, energy          the third follows
  any two of energy, area, fluence             the third follows
  any two of fluence, irradiance, time         the third follows
  peak power with a duty cycle, or with pulse width and frequency
                                               the mean power follows

examples:
  coach dose --mean-power 800mW --time 90s --area 0.5cm2
  coach dose mean-power=0.5W energy=4J         how long for 4 J?
  coach dose mean-power=100mW time=1:30 spots=4 sessions=10
  coach dose peak-power=70W pulse-width=60ns frequency=9500Hz
  coach dose mean-power=6W swept-area=100cm2 swept-fluence=3.5J/cm2

"1.34 min" is refused, because some mean 80.4 s by it and some 1 min 34 s; so is "1.000 mW" where
your language sets off thousands by a point. Where more is given than is needed, power (or
irradiance) and time rule, and what differs from them by more than 5 % is shown with
the arithmetic and the likely slip; that is an answer too (exit code 0, "closes": false in
--json). Input that cannot be used is told all at once (exit code 2).

--json prints what coach/dose/dose.schema.json describes.

It counts and prescribes nothing: the prescriber's plan and local rules decide.
"""


def add(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add the command to the command line."""
    command = commands.add_parser(
        "dose",
        help="a calculator: power, time, energy, area, J/cm2; any two give the rest",
        description="Work out power, time, energy and J/cm2 of one spot from what is known. "
        "Peak or mean power is always said.",
        epilog=EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
        allow_abbrev=False,
    )
    command.add_argument("words", nargs="*", metavar="NAME=VALUE", help="the same without dashes")
    for name in NAMES:
        command.add_argument(f"--{name}", action="append", metavar="VALUE", help=HELP[name])
    for also, name in ALSO.items():
        dest = name.replace("-", "_")
        command.add_argument(f"--{also}", dest=dest, action="append", help=argparse.SUPPRESS)
    for name, what in COUNTS.items():
        command.add_argument(f"--{name}", action="append", metavar="N", help=what)
    command.add_argument("--power", action="append", help=argparse.SUPPRESS)
    command.add_argument("--json", action="store_true", help="machine-readable, unrounded")
    command.set_defaults(run=run)


def arranged(arguments: Sequence[str]) -> list[str]:
    """The words of ``coach dose`` so that argparse takes them in any order, and ``-5s`` as a value.

    Words of another command come back as they are.
    """
    if arguments[:1] != ["dose"]:
        return list(arguments)
    words, options = ["dose"], []
    rest = iter(arguments[1:])
    for word in rest:
        if word.removeprefix("--") in (*NAMES, *ALSO, *COUNTS, "power") and word.startswith("--"):
            value = next(rest, None)
            options.append(word if value is None else f"{word}={value}")
        elif word.startswith("-"):
            options.append(word)
        else:
            words.append(word)
    return [*words, *options]


def run(args: argparse.Namespace) -> int:
    """Print what follows, or everything that cannot be used."""
    from coach.dose.solve import CannotSolve, solve, to_json

    given, counts, problems = _read(args)
    solution = None
    if not problems:
        try:
            solution = solve(given, spots=counts["spots"], sessions=counts["sessions"])
        except CannotSolve as reason:
            problems = [str(reason)]
    if solution is None:
        print("\n".join(f"coach dose: {problem}" for problem in problems), file=sys.stderr)
        return Exit.BAD_INPUT
    if args.json:
        import json

        print(json.dumps(to_json(solution), indent=2, allow_nan=False))
    else:
        print("\n".join(lines(solution)))
    return Exit.DONE


def _read(
    args: argparse.Namespace,
) -> "tuple[dict[Quantity, Fraction], dict[str, int], list[str]]":
    """What was given, how many spots and sessions, and everything that cannot be used."""
    from coach.dose.quantity import BadQuantity, parse
    from coach.language import thousands_sign

    thousands = thousands_sign()
    given: dict[Quantity, Fraction] = {}
    counts = dict.fromkeys(COUNTS, 1)
    problems = []
    seen: set[str] = set()
    for name, shown, value in _pairs(args):
        if name is None:
            problems.append(shown)
            continue
        if name in seen:
            problems.append(f'{shown}: found "{_short(value)}", a second value; allowed: one')
            continue
        seen.add(name)
        if name in counts:
            if re.fullmatch(r"[0-9]{1,5}", value) and 1 <= int(value) <= MOST:
                counts[name] = int(value)
            else:
                problems.append(
                    f'{shown}: found "{_short(value)}"; allowed: a whole number, 1 to {MOST}'
                )
            continue
        try:
            given[NAMES[name]] = parse(NAMES[name], value, thousands=thousands)
        except BadQuantity as bad:
            problems.append(f"{shown}: {_reason(bad)}")
    if not seen and not problems:
        problems.append("nothing was given; coach dose --help shows how")
    return given, counts, problems


def _pairs(args: argparse.Namespace) -> Iterator[tuple[str | None, str, str]]:
    """Name, the name as it was typed, value. A word without a known name: None and the problem."""
    for name in (*NAMES, *COUNTS):
        for value in getattr(args, name.replace("-", "_")) or ():
            yield name, f"--{name}", value
    for value in args.power or ():
        yield None, f'--power: found "{_short(value)}"; {_PEAK_OR_MEAN}', value
    for word in args.words:
        name, equals, value = word.partition("=")
        name = name.strip().lower().replace("_", "-")
        name = ALSO.get(name, name)
        if equals and name in (*NAMES, *COUNTS):
            yield name, name, value
        elif equals and name == "power":
            yield None, f'power: found "{_short(value)}"; {_PEAK_OR_MEAN}', value
        else:
            yield None, _unknown(word, name if equals else None), value


_PEAK_OR_MEAN = "allowed: mean-power or peak-power (which one is never guessed)"


def _unknown(word: str, name: str | None) -> str:
    from coach.plan.problems import meant

    if name is None:
        return f'found "{_short(word)}"; allowed: NAME=VALUE, such as time=90s or mean-power=800mW'
    known = (*NAMES, *COUNTS)
    hint = meant(name, known)
    return f'found "{_short(word)}"; allowed names: {", ".join(known)}' + (
        f" ({hint})" if hint else ""
    )


def _reason(bad: "BadQuantity") -> str:
    hint = f" ({bad.hint})" if bad.hint else ""
    return f"found {_short(bad.found)}; allowed: {bad.allowed}{hint}"


def _short(text: str) -> str:
    from coach.plan.problems import short

    return short(text)


def lines(solution: "Solution") -> list[str]:
    """The answer for people, within 80 columns where words allow it."""
    import textwrap

    from coach.dose.quantity import BOUNDS, plain
    from coach.units import clock_text

    def wrapped(text: str, first: str = "  ", rest: str = "    ") -> list[str]:
        return textwrap.wrap(
            text, 80, initial_indent=first, subsequent_indent=rest, break_on_hyphens=False
        )

    out = ["One spot"]
    for name, quantity in NAMES.items():
        value = solution.values.get(quantity, solution.given.get(quantity))
        if value is None:
            continue
        shown = f"{plain(value)} {BOUNDS[quantity].unit}"
        if quantity == "duration_s" and value >= 60 and value.denominator == 1:
            shown += f" ({clock_text(int(value))})"
        given = "" if quantity in solution.steps else "   as given"
        out.append(f"  {name.replace('-', ' '):<15}{shown}{given}".rstrip())
    session_j, course_j = solution.session_energy_j, solution.course_energy_j
    if session_j is not None and course_j is not None:
        if solution.spots > 1:
            out.append(f"Session of {solution.spots} spots: {plain(session_j)} J")
        if solution.sessions > 1:
            out.append(f"Course of {solution.sessions} sessions: {plain(course_j)} J")
    if solution.steps:
        out += ["", "How it follows"]
        for step in solution.steps.values():
            out += wrapped(step)
    if solution.not_closing:
        out += ["", "Does not close: power and time rule above; ask which number is wrong"]
        for found in solution.not_closing:
            out += wrapped(str(found))
    if solution.remarks:
        out += ["", "Worth a second look"]
        for remark in solution.remarks:
            out += wrapped(remark)
    return [*out, "", *wrapped(PRESCRIBES_NOTHING, "", "")]
