"""What the desk says besides its rows: totals, findings, the dog. Pure."""

import textwrap
from collections.abc import Iterator, Sequence

from coach.body.drawing import Drawing, Mark, draw_dog, view_of
from coach.body.raster import Look
from coach.body.regions import Side, regions
from coach.plan.desk import Desk, Sheet, SpotFigures
from coach.plan.draft import NOTHING
from coach.plan.problems import Path
from coach.plan.spots import Spot
from coach.units import NS_PER_S, ceil_s, clock_text, j_from_fj, rounded, s_from_ns

MOST_FINDINGS = 5


def totals_lines(desk: Desk, sheet: Sheet, at: Path, *, width: int) -> list[str]:
    """What the plan comes to, and what the region under the cursor gets; always three lines."""
    totals = sheet.totals
    if totals is None:
        count = len(sheet.problems)
        told = "1 field to fill in or mend" if count == 1 else f"{count} fields to fill in or mend"
        return [f"{told}; totals come when the plan is whole", "", ""]
    energy = f"{_j(totals.energy_fj)} J a session"
    if totals.week_fj is not None:
        energy += f", {_j(totals.week_fj)} J a week"
    energy += f", {_j(totals.course_fj)} J in {totals.sessions} sessions"
    turns = "1 turn" if totals.turns == 1 else f"{totals.turns} turns"
    spots = "1 spot" if totals.spots == 1 else f"{totals.spots} spots"
    seconds = ceil_s(totals.hold_ns)
    lines = [
        f"{spots}, {seconds} s on the skin, {clock_text(ceil_s(totals.session_ns))} min with "
        f"moves and {turns} of the dog",
        energy,
        "",
    ]
    if len(at) > 1 and at[0] == "regions" and isinstance(at[1], int):
        name = regions()[sheet.plan.regions[at[1]].region].owner_words if sheet.plan else ""
        lines[2] = f"{name}: {spot_text(totals.regions[at[1]])}"
    return [line[:width] for line in lines]


def spot_text(figures: SpotFigures) -> str:
    """``40 s, 4 J, 8 J/cm2, 200 mW/cm2 a spot``."""
    parts = [
        f"{rounded(s_from_ns(figures.hold_ns), 1).normalize():f} s",
        f"{_j(figures.energy_fj)} J",
    ]
    if figures.fluence_j_cm2 is not None:
        parts.append(f"{rounded(figures.fluence_j_cm2, 2).normalize():f} J/cm2")
    if figures.irradiance_mw_cm2 is not None:
        parts.append(f"{rounded(figures.irradiance_mw_cm2, 0).normalize():f} mW/cm2")
    return f"{', '.join(parts)} a spot"


def _j(energy_fj: object) -> str:
    return f"{rounded(j_from_fj(energy_fj), 2).normalize():f}"  # type: ignore[arg-type]


def remarks(sheet: Sheet, *, width: int, height: int) -> list[str]:
    """What is wrong, or what is worth a second look; as many as fit, and how many more."""
    empty = [problem for problem in sheet.problems if problem.found == NOTHING]
    wrong = [problem for problem in sheet.problems if problem.found != NOTHING]
    told = [f"! {problem.field}: {problem.found}; {problem.allowed}" for problem in wrong]
    if empty:
        told.append(f"to fill in: {', '.join(problem.field for problem in empty)}")
    told += [f"? {finding.field}: {finding.text}" for finding in sheet.findings]
    if not told:
        return ["Nothing to remark."][:height]
    lines: list[str] = []
    for number, text in enumerate(told):
        wrapped = textwrap.wrap(text, max(10, width), subsequent_indent="  ")
        if number >= MOST_FINDINGS or len(lines) + len(wrapped) > height - (number + 1 < len(told)):
            lines.append(f"{len(told) - number} more")
            break
        lines += wrapped
    return lines[:height]


def dog_picture(
    sheet: Sheet, region: str, turn: int, *, width: int, height: int, look: Look
) -> Drawing | None:
    """The dog with every spot as it will be coached; the region under the cursor is marked.

    ``turn`` goes through its sides and faces.
    """
    if width < 20 or height < 6:
        return None
    place = regions().get(region)
    spots = list(sheet.spots)
    mine = [spot for spot in spots if spot.region == region]
    if place is None or not mine:
        # Not ordered yet: the place itself, from each side in turn.
        sides: Sequence[Side] = ("left", "right") if place is None else place.sides
        return draw_dog(
            width=width,
            height=height,
            look=look,
            view="side" if place is None else view_of(region),
            side=sides[turn % len(sides)],
            region=None if place is None else region,
            aspect=place.aspects[0] if place is not None and place.aspects else None,
            coming=map(_mark, spots),
        )
    faces = list(dict.fromkeys((spot.side, spot.aspect) for spot in mine))
    side, aspect = faces[turn % len(faces)]
    current = next(spot for spot in mine if (spot.side, spot.aspect) == (side, aspect))
    return draw_dog(
        width=width,
        height=height,
        look=look,
        view=view_of(region),
        side=side,
        region=region,
        aspect=aspect,
        current=_mark(current),
        coming=[_mark(spot) for spot in spots if spot is not current],
    )


def _mark(spot: Spot) -> Mark:
    return Mark(
        region=spot.region, side=spot.side, aspect=spot.aspect, number=spot.number, of=spot.of
    )


def order_lines(sheet: Sheet) -> Iterator[str]:
    """The spots in the order of the session, one line each."""
    for spot in sheet.spots:
        face = "" if spot.aspect is None else f", {spot.aspect}"
        name = regions()[spot.region].owner_words
        yield (
            f"{spot.index + 1:2} {name}, {spot.side}{face}, {spot.number} of {spot.of}, "
            f"{spot.hold_ns / NS_PER_S:g} s"
        )
