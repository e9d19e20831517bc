"""Random plans as text, written without any help of the program, with what they must give."""

from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from hypothesis import strategies as st

# Sides and aspects as in the nomenclature of the trade; common practice, no source.
REGIONS: dict[str, tuple[tuple[str, ...], tuple[str, ...]]] = {
    "neck_upper": (("left", "right"), ()),
    "thoracic": (("left", "middle", "right"), ()),
    "lumbar": (("left", "middle", "right"), ()),
    "tail_base": (("left", "middle", "right"), ()),
    "shoulder": (("left", "right"), ("lateral", "cranial", "caudal")),
    "stifle": (("left", "right"), ("medial", "lateral", "cranial", "caudal")),
    "hindpaw": (("left", "right"), ("dorsal", "plantar")),
}


@dataclass(frozen=True, kw_only=True)
class AnyPlan:
    """``spots`` and ``hold_s`` of one session; ``target_j`` per region, where one is stated."""

    text: str
    power_mw: Fraction
    spots: int
    hold_s: Fraction | None
    targets_j: tuple[Fraction | None, ...]


def decimals(low: str, high: str, places: int) -> st.SearchStrategy[Decimal]:
    return st.decimals(Decimal(low), Decimal(high), places=places, allow_nan=False)


def quoted(text: str) -> str:
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"').replace("\n", "\\n") + '"'


letters = st.characters(codec="utf-8", categories=("L", "N", "P", "S", "M"))
lines = st.text(letters, min_size=1, max_size=80)
notes = st.text(letters | st.sampled_from(" \n"), max_size=200).map(str.strip)


@st.composite
def any_plans(draw: st.DrawFn) -> AnyPlan:
    """Valid plans: every field, any dose, both orders, with or without the optional tables."""
    power_mw = draw(decimals("10", "500", 1))
    area_cm2 = draw(st.none() | decimals("0.01", "10", 2))
    parts = [
        "coach_plan = 1",
        f'[plan]\nid = "any"\nrevision = {draw(st.integers(1, 9999))}',
        f"prescriber = {quoted(draw(lines))}",
        "prescribed_on = 2026-11-01\nvalid_until = 2027-11-01",
        f"note = {quoted(draw(notes))}",
        f"[dog]\nname = {quoted(draw(lines))}\nweight_kg = {draw(decimals('0.5', '120', 1))}",
        f'[laser]\nlabel = {quoted(draw(lines))}\nlaser_class = "3B"',
    ]
    if area_cm2 is not None:
        parts.append(f"beam_area_cm2 = {area_cm2}")
    light = draw(st.sampled_from(["continuous", "pulsed", "emitters", "measured"]))
    if light == "emitters":
        # Half of the power from each.
        parts.append(f"[[laser.emitter]]\nwavelength_nm = 660\nmean_power_mw = {power_mw / 2}")
        parts.append("[[laser.emitter]]\nwavelength_nm = 905\n[laser.emitter.pulsed]")
        parts.append(f"peak_power_mw = {power_mw}\nduty_cycle = 0.5")
    elif light == "pulsed":
        parts.append("wavelength_nm = 905")
        parts.append(f"[laser.pulsed]\npeak_power_mw = {power_mw * 2}\nduty_cycle = 0.5")
    elif light == "measured":
        # 20 % less than stated: as far apart as the meter is still gone by.
        stated_mw = power_mw * Decimal("1.25")
        parts.append(f"wavelength_nm = 808\nmean_power_mw = {stated_mw}\n[laser.output_check]")
        parts.append(f"measured_mw = {power_mw}\non = 2026-11-20")
    else:
        parts.append(f"wavelength_nm = 808\nmean_power_mw = {power_mw}")
    mean_mw = Fraction(power_mw)
    for _ in range(draw(st.integers(0, 3))):
        often = f"times_a_week = {draw(st.integers(1, 10))}"
        if draw(st.booleans()):
            often = f"every_days = {draw(st.integers(1, 84))}"
        parts.append(f'[[course]]\nname = "phase"\n{often}\nweeks = {draw(st.integers(1, 104))}')
        if draw(st.booleans()):
            parts.append('rest_days = ["sunday", "wednesday"]')
    if draw(st.booleans()):
        missed = draw(st.sampled_from(["shift", "drop", "ask"]))
        parts.append(f'[calendar]\nmissed = "{missed}"\nat = ["08:00", "19:30"]')
        parts.append(f"window_hours = {draw(decimals('0.5', '72', 1))}")
    spots, hold_s = 0, Fraction(0)
    if draw(st.booleans()):
        each_side_s = draw(decimals("1", "300", 3))
        parts.append(f"[settle]\nseconds_each_side = {each_side_s}")
        spots, hold_s = 2, 2 * Fraction(each_side_s)
    if draw(st.booleans()):
        order = draw(st.sampled_from(["one side at a time", "across, level by level"]))
        parts.append(f'[session]\norder = "{order}"\nmove_seconds = {draw(st.integers(3, 120))}')
        parts.append(f"patience_minutes = {draw(st.integers(1, 60))}")
    if draw(st.booleans()):
        hours, most = draw(decimals("0.5", "672", 1)), draw(st.integers(1, 4))
        may = draw(st.sampled_from(["true", "false"]))
        parts.append(f"[limits]\nleast_hours_between = {hours}\nmost_a_day = {most}")
        parts.append(f"most_a_week = 14\ncarry_on_minutes = {draw(st.integers(1, 720))}")
        parts.append(f"owner_may_overrule = {may}")
    if draw(st.booleans()):
        parts.append(f"[scores]\nevery_days = {draw(st.integers(1, 365))}")
        parts.append('instrument = "a form"\nactivities = ["stairs", "sofa", "a walk"]')
    if draw(st.booleans()):
        cleared = draw(
            st.lists(st.sampled_from(["implant", "lump", "young"]), max_size=3, unique=True)
        )
        parts.append(f"[care]\nclearances = {list(cleared)!r}\nreminders = 'few'".replace("'", '"'))
        parts.append('dog_lies = "on its mat"\nowner_sits = "left"')
    exact, targets = True, []
    for _ in range(draw(st.integers(1, 5))):
        name = draw(st.sampled_from(sorted(REGIONS)))
        known_sides, known_aspects = REGIONS[name]
        sides = draw(st.lists(st.sampled_from(known_sides), min_size=1, unique=True))
        number = draw(st.integers(1, 60))
        parts.append(f'[[regions]]\nregion = "{name}"\nspots = {number}')
        parts.append(f"sides = [{', '.join(map(quoted, sides))}]")
        here = number * len(sides)
        if known_aspects:
            aspects = draw(st.lists(st.sampled_from(known_aspects), min_size=1, unique=True))
            parts.append(f"aspects = [{', '.join(map(quoted, aspects))}]")
            here *= len(aspects)
        spots += here
        kind = draw(st.sampled_from(["s", "J", "J/cm2"] if area_cm2 is not None else ["s", "J"]))
        # Seconds from which a target is made, so that it lies within the bounds.
        seconds = draw(decimals("1", "500", 3))
        target_j: Fraction | None = None
        if kind == "s":
            parts.append(f"seconds_each_spot = {seconds}")
            hold_s += here * Fraction(seconds)
        else:
            exact = False
            joules = max(Decimal("0.02"), (seconds * power_mw / 1000).quantize(Decimal("0.01")))
            target_j = Fraction(min(joules, Decimal(250)))
            if kind == "J":
                parts.append(f"joules_each_spot = {min(joules, Decimal(250))}")
            elif area_cm2 is not None:
                fluence = (min(joules, Decimal(250)) / area_cm2).quantize(Decimal("0.01"))
                fluence = min(max(fluence, Decimal("0.01")), Decimal(2000))
                target_j = Fraction(fluence) * Fraction(area_cm2)
                parts.append(f"joules_per_cm2_each_spot = {fluence}")
        targets.append(target_j)
        parts.append(f"note = {quoted(draw(notes))}")
    return AnyPlan(
        text="\n".join(parts) + "\n",
        power_mw=mean_mw,
        spots=spots,
        hold_s=hold_s if exact else None,
        targets_j=tuple(targets),
    )
