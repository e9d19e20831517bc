"""Bad plans: each names file, line, field, what was found, what is allowed and, where it can be
guessed, what was meant.

Whatever is expected here is our own wording; the slips are those that people make (common
practice, no source), but for those that name a source beside them.

Longer than other files: it is one table of slips, read from top to bottom.
"""

from dataclasses import dataclass

import pytest

from tests.plan.worlds import changed, line_in, problems_of

DOG_FIELDS = (
    "name, weight_kg, neck_cm, back_cm, rib_cm, loin_cm, measured_on, weight_when_measured_kg, "
    "growing"
)
ALL_REGIONS = (
    "atlas, neck_upper, neck_lower, cervicothoracic, thoracic, thoracolumbar, lumbar, "
    "lumbosacral, sacrum, tail_base, shoulder, elbow, carpus, forepaw, hip, stifle, hock, hindpaw"
)
REGION_FIELDS = (
    "region, sides, aspects, spots, spacing_cm, most_spots, priority, "
    "seconds_each_spot, joules_each_spot, "
    "joules_per_cm2_each_spot, note"
)
TABLES = (
    "coach_plan, plan, dog, laser, settle, session, limits, calendar, scores, care, course, regions"
)
FORMATS = "2, the format of plan files, or 1, the one before"
TOML = 'TOML, such as: name = "text" or seconds_each_spot = 30'
PULSED = "beam_area_cm2 = 0.5\n[laser.pulsed]\npeak_power_mw = 400\n"


@dataclass(frozen=True, kw_only=True)
class Bad:
    """``at``: words on the line that must be named; None when the file has no such line."""

    old: str
    new: str
    at: str | None
    field: str
    found: str
    allowed: str
    hint: str = ""


BAD = {
    # Keys and tables
    "limits: minutes for hours": Bad(
        old="[settle]",
        new="[limits]\nleast_hours_between = 1200\n[settle]",
        at="least_hours",
        field="limits.least_hours_between",
        found="1200",
        allowed="0.5 to 672 hours",
        hint="this looks like minutes",
    ),
    "session: patience without end": Bad(
        old="repeats_allowed = 1",
        new="repeats_allowed = 1\npatience_minutes = 61",
        at="patience",
        field="session.patience_minutes",
        found="61",
        allowed="a whole number, 1 to 60 minutes",
    ),
    "session: no patience": Bad(
        old="repeats_allowed = 1",
        new="repeats_allowed = 1\npatience_minutes = 0",
        at="patience",
        field="session.patience_minutes",
        found="0",
        allowed="a whole number, 1 to 60 minutes",
    ),
    "limits: words where yes or no is meant": Bad(
        old="[settle]",
        new='[limits]\nowner_may_overrule = "yes"\n[settle]',
        at="owner_may",
        field="limits.owner_may_overrule",
        found='"yes"',
        allowed="true or false",
    ),
    "limits: more a day than a week": Bad(
        old="[settle]",
        new="[limits]\nmost_a_day = 4\nmost_a_week = 3\n[settle]",
        at="most_a_day",
        field="limits.most_a_day",
        found="4",
        allowed="at most 3 (most_a_week)",
    ),
    "limits: fewer a week than the course orders": Bad(
        old="[settle]",
        new="[limits]\nmost_a_week = 2\n[settle]",
        at="times_a_week",
        field="course[1].times_a_week",
        found="3",
        allowed="at most 2 (most_a_week under [limits])",
    ),
    "scores: hours for days": Bad(
        old="[settle]",
        new="[scores]\nevery_days = 0\n[settle]",
        at="every_days",
        field="scores.every_days",
        found="0",
        allowed="a whole number, 1 to 365 days",
    ),
    "care: a clearance that there is not": Bad(
        old="[settle]",
        new='[care]\nclearances = ["lumps"]\n[settle]',
        at="clearances",
        field="care.clearances[0]",
        found='"lumps"',
        allowed='"lump", "pregnancy", "wound", "fever", "bleeding", "medicine", "worse", '
        '"heat_sensitive", "epilepsy", "young", "thyroid", "implant" or "blood"',
        hint='did you mean "lump"?',
    ),
    "scores: two activities": Bad(
        old="[settle]",
        new='[scores]\nactivities = ["stairs", "sofa"]\n[settle]',
        at="activities",
        field="scores.activities",
        found='["stairs", "sofa"]',
        allowed='at least 3, such as ["stairs", "getting up", "a long walk"]',
    ),
    "scores: an activity twice": Bad(
        old="[settle]",
        new='[scores]\nactivities = ["stairs", "Stairs", "sofa"]\n[settle]',
        at="activities",
        field="scores.activities",
        found='["stairs", "Stairs", "sofa"]',
        allowed="activities that differ from each other",
    ),
    "scores: an activity that is no text": Bad(
        old="[settle]",
        new='[scores]\nactivities = ["stairs", 3, "sofa"]\n[settle]',
        at="activities",
        field="scores.activities[2]",
        found="3",
        allowed="text in quotes",
    ),
    "unknown key": Bad(
        old="spots = 4",
        new="spots = 4\nspots_a_side = 4",
        at="spots_a_side",
        field="regions[1].spots_a_side",
        found="an unknown key",
        allowed=REGION_FIELDS,
        hint='did you mean "spots"?',
    ),
    "unknown key that could mean anything": Bad(
        old="weight_kg = 9.5",
        new='weight_kg = 9.5\ncoat = "black"',
        at="coat",
        field="dog.coat",
        found="an unknown key",
        allowed=DOG_FIELDS,
    ),
    "unknown key in the table of pulses": Bad(
        old="beam_area_cm2 = 0.5\n",
        new=PULSED + "duty_cycle = 0.25\nduty = 0.25\n",
        at="duty = ",
        field="laser.pulsed.duty",
        found="an unknown key",
        allowed="peak_power_mw, duty_cycle, pulse_width_us, frequency_hz",
        hint='did you mean "duty_cycle"?',
    ),
    "unknown table": Bad(
        old="[settle]",
        new="[setle]",
        at="[setle]",
        field="setle",
        found="an unknown table or key",
        allowed=TABLES,
        hint='did you mean "settle"?',
    ),
    "unknown table made by a key with dots": Bad(
        old="coach_plan = 1\n",
        new="coach_plan = 1\nsetle.seconds.left = 30\n",
        at="setle",
        field="setle",
        found="an unknown table or key",
        allowed=TABLES,
        hint='did you mean "settle"?',
    ),
    "bad value behind a key with dots": Bad(
        old="beam_area_cm2 = 0.5\n",
        new="beam_area_cm2 = 0.5\npulsed.peak_power_mw = 400\npulsed.duty_cycle = 25\n",
        at="pulsed.duty_cycle",
        field="laser.pulsed.duty_cycle",
        found="25",
        allowed="0.000001 to 1 (0.5 means 50 %)",
        hint="this looks like %",
    ),
    "key that has a dot and an escape in it": Bad(
        old="weight_kg = 9.5",
        new='weight_kg = 9.5\n"a.\\u001b" = 1',
        at='"a.',
        field='dog."a.\\x1b"',
        found="an unknown key",
        allowed=DOG_FIELDS,
    ),
    "missing table": Bad(
        old='[dog]\nname = "Juniper"\nweight_kg = 9.5\n',
        new="",
        at=None,
        field="dog",
        found="nothing",
        allowed="a table [dog]",
    ),
    "missing field": Bad(
        old="spots = 4\n",
        new="",
        at="[[regions]]",
        field="regions[1].spots",
        found="nothing",
        allowed="this field must be there, such as spots = 4; or, to count by the tape: neck_cm "
        "and back_cm in [dog]; spacing_cm here or in [session], or head_footprint_cm in [laser]",
    ),
    "missing date": Bad(
        old="valid_until = 2026-12-31\n",
        new="",
        at="[plan]",
        field="plan.valid_until",
        found="nothing",
        allowed="this field must be there, such as valid_until = 2026-12-31",
    ),
    "table for a value": Bad(
        old="spots = 4",
        new="spots = { left = 4 }",
        at="spots = {",
        field="regions[1].spots",
        found="a table",
        allowed="a whole number, 1 to 60",
    ),
    "format of another time": Bad(
        old="coach_plan = 1",
        new="coach_plan = 3",
        at="coach_plan",
        field="coach_plan",
        found="3",
        allowed=FORMATS,
    ),
    "format as text": Bad(
        old="coach_plan = 1",
        new='coach_plan = "1"',
        at="coach_plan",
        field="coach_plan",
        found='"1"',
        allowed=FORMATS,
    ),
    "format as true": Bad(
        old="coach_plan = 1",
        new="coach_plan = true",
        at="coach_plan",
        field="coach_plan",
        found="true",
        allowed=FORMATS,
    ),
    "no format": Bad(
        old="coach_plan = 1\n",
        new="",
        at=None,
        field="coach_plan",
        found="nothing",
        allowed=f"coach_plan = {FORMATS}; above the first table",
    ),
    # Types
    "number in quotes": Bad(
        old="mean_power_mw = 100",
        new='mean_power_mw = "100"',
        at="mean_power_mw",
        field="laser.mean_power_mw",
        found='"100"',
        allowed="a number without quotes or unit",
    ),
    "number of true": Bad(
        old="weight_kg = 9.5",
        new="weight_kg = true",
        at="weight_kg",
        field="dog.weight_kg",
        found="true",
        allowed="a number without quotes or unit",
    ),
    "not a number": Bad(
        old="mean_power_mw = 100",
        new="mean_power_mw = nan",
        at="mean_power_mw",
        field="laser.mean_power_mw",
        found="NaN",
        allowed="an ordinary number",
    ),
    "endless number": Bad(
        old="seconds_each_spot = 40",
        new="seconds_each_spot = inf",
        at="seconds_each_spot",
        field="regions[1].seconds_each_spot",
        found="Infinity",
        allowed="an ordinary number",
    ),
    "number with more digits than anyone reads": Bad(
        old="revision = 3",
        new="revision = " + "9" * 4000,
        at="revision",
        field="plan.revision",
        found="a number of more than 60 digits",
        allowed="a whole number, 1 to 9999",
    ),
    "half a spot": Bad(
        old="spots = 4",
        new="spots = 4.5",
        at="spots = 4.5",
        field="regions[1].spots",
        found="4.5",
        allowed="a whole number, 1 to 60",
    ),
    "text without quotes around a list": Bad(
        old='sides = ["left", "right"]',
        new='sides = "left"',
        at="sides",
        field="regions[1].sides",
        found='"left"',
        allowed='a list in square brackets, such as ["left", "right"]',
    ),
    "date in quotes": Bad(
        old="valid_until = 2026-12-31",
        new='valid_until = "2026-12-31"',
        at="valid_until",
        field="plan.valid_until",
        found='"2026-12-31"',
        allowed="a date without quotes, such as 2026-12-31",
    ),
    "yes for true": Bad(
        old="seconds_each_side = 30",
        new='leave_out = "yes"',
        at="leave_out",
        field="settle.leave_out",
        found='"yes"',
        allowed="true or false",
    ),
    "number for a region": Bad(
        old='region = "hip"',
        new="region = 7",
        at="region = 7",
        field="regions[2].region",
        found="7",
        allowed='text in quotes, such as "lumbar"',
    ),
    # Numbers out of bounds
    "negative power": Bad(
        old="mean_power_mw = 100",
        new="mean_power_mw = -100",
        at="mean_power_mw",
        field="laser.mean_power_mw",
        found="-100",
        allowed="1 to 30000 mW",
    ),
    "watts for milliwatts": Bad(
        old="mean_power_mw = 100",
        new="mean_power_mw = 0.1",
        at="mean_power_mw",
        field="laser.mean_power_mw",
        found="0.1",
        allowed="1 to 30000 mW",
        hint="this looks like watts",
    ),
    # D16: a paper prints "100 W" for 100 mW (Guaraldo, quoted in Oxid Med Cell Longev
    # 2017/5273403; read second-hand).
    "D16, a hundred watts": Bad(
        old="mean_power_mw = 100",
        new="mean_power_mw = 100000",
        at="mean_power_mw",
        field="laser.mean_power_mw",
        found="100000",
        allowed="1 to 30000 mW",
        hint="this looks like mW written as W, or uW as mW",
    ),
    "minutes for seconds": Bad(
        old="seconds_each_spot = 40",
        new="seconds_each_spot = 0.67",
        at="seconds_each_spot",
        field="regions[1].seconds_each_spot",
        found="0.67",
        allowed="1 to 1800 s",
        hint="this looks like minutes",
    ),
    "square millimetres": Bad(
        old="beam_area_cm2 = 0.5",
        new="beam_area_cm2 = 500",
        at="beam_area_cm2",
        field="laser.beam_area_cm2",
        found="500",
        allowed="0.001 to 100 cm2 at the skin",
        hint="this looks like mm2",
    ),
    "micrometres": Bad(
        old="wavelength_nm = 808",
        new="wavelength_nm = 0.808",
        at="wavelength_nm",
        field="laser.wavelength_nm",
        found="0.808",
        allowed="400 to 1400 nm",
        hint="this looks like um; 0.8 um is 800 nm",
    ),
    "grams": Bad(
        old="weight_kg = 9.5",
        new="weight_kg = 9500",
        at="weight_kg",
        field="dog.weight_kg",
        found="9500",
        allowed="0.5 to 120 kg",
        hint="this looks like grams",
    ),
    "percent": Bad(
        old="beam_area_cm2 = 0.5\n",
        new=PULSED + "duty_cycle = 25\n",
        at="duty_cycle",
        field="laser.pulsed.duty_cycle",
        found="25",
        allowed="0.000001 to 1 (0.5 means 50 %)",
        hint="this looks like %",
    ),
    "no spots": Bad(
        old="spots = 4",
        new="spots = 0",
        at="spots = 0",
        field="regions[1].spots",
        found="0",
        allowed="a whole number, 1 to 60",
    ),
    "settle of no time": Bad(
        old="seconds_each_side = 30",
        new="seconds_each_side = 0",
        at="seconds_each_side",
        field="settle.seconds_each_side",
        found="0",
        allowed="1 to 1800 s",
    ),
    "fifteen times a week": Bad(
        old="times_a_week = 3",
        new="times_a_week = 15",
        at="times_a_week",
        field="course[1].times_a_week",
        found="15",
        allowed="a whole number, 1 to 14",
    ),
    "tiny beyond words": Bad(
        old="mean_power_mw = 100",
        new="mean_power_mw = 1e-999999999",
        at="mean_power_mw",
        field="laser.mean_power_mw",
        found="1E-999999999",
        allowed="1 to 30000 mW",
        hint="this looks like watts",
    ),
    # Texts
    "no prescriber": Bad(
        old='"Dr. Ada Muster (invented)"',
        new='" "',
        at="prescriber",
        field="plan.prescriber",
        found='" "',
        allowed="1 to 80 characters",
    ),
    "name that never ends": Bad(
        old='"Juniper"',
        new=f'"{"J" * 81}"',
        at="name",
        field="dog.name",
        found=f'"{"J" * 56}...',
        allowed="1 to 80 characters",
    ),
    "escape sequence for a terminal": Bad(
        old='"Juniper"',
        new='"Juni\\u001b[2Jper"',
        at="name",
        field="dog.name",
        found='"Juni\\x1b[2Jper"',
        allowed="text without control characters, on one line",
    ),
    "letters that turn the line around": Bad(
        old='"Juniper"',
        new='"Juni\u202eper"',
        at="name",
        field="dog.name",
        found='"Juni\\u202eper"',
        allowed="text without control characters, on one line",
    ),
    "name on two lines": Bad(
        old='"Juniper"',
        new='"""Juni\nper"""',
        at="name",
        field="dog.name",
        found='"Juni\\nper"',
        allowed="text without control characters, on one line",
    ),
    "id with a space": Bad(
        old='id = "spine"',
        new='id = "The spine"',
        at="id = ",
        field="plan.id",
        found='"The spine"',
        allowed='small letters, digits and hyphens, at most 40, such as "juniper-spine"',
    ),
    "word that is not in the list": Bad(
        old='order = "one side at a time"',
        new='order = "across"',
        at="order",
        field="session.order",
        found='"across"',
        allowed='"one side at a time" or "across, level by level"',
        hint='did you mean "across, level by level"?',
    ),
    "class in small letters": Bad(
        old='laser_class = "3B"',
        new='laser_class = "3b"',
        at="laser_class",
        field="laser.laser_class",
        found='"3b"',
        allowed='"1", "1C", "1M", "2", "2M", "3R", "3B" or "4"',
        hint='did you mean "3B"?',
    ),
    # The body
    "misspelt region": Bad(
        old='region = "lumbar"',
        new='region = "lumber"',
        at="lumber",
        field="regions[1].region",
        found='"lumber"',
        allowed=ALL_REGIONS,
        hint='did you mean "lumbar"?',
    ),
    "region in capitals": Bad(
        old='region = "lumbar"',
        new='region = "LUMBAR"',
        at="LUMBAR",
        field="regions[1].region",
        found='"LUMBAR"',
        allowed=ALL_REGIONS,
        hint='did you mean "lumbar"?',
    ),
    "region by its trade term": Bad(
        old='region = "lumbar"',
        new='region = "lumbar spine, L1-L7"',
        at="lumbar spine",
        field="regions[1].region",
        found='"lumbar spine, L1-L7"',
        allowed=ALL_REGIONS,
        hint='did you mean "lumbar"?',
    ),
    "region in the owner's words": Bad(
        old='region = "lumbar"',
        new='region = "root of the tail"',
        at="root of the tail",
        field="regions[1].region",
        found='"root of the tail"',
        allowed=ALL_REGIONS,
        hint='did you mean "tail_base"?',
    ),
    "region of no dog": Bad(
        old='region = "lumbar"',
        new='region = "xyzzy"',
        at="xyzzy",
        field="regions[1].region",
        found='"xyzzy"',
        allowed=ALL_REGIONS,
    ),
    "side that is none": Bad(
        old='["left", "right"]',
        new='["left", "rigth"]',
        at="rigth",
        field="regions[1].sides[2]",
        found='"rigth"',
        allowed='"left", "middle" or "right"',
        hint='did you mean "right"?',
    ),
    "side that the region does not have": Bad(
        old='["right"]',
        new='["right", "middle"]',
        at="middle",
        field="regions[2].sides[2]",
        found='"middle"',
        allowed="left, right: hip (coxofemoral) joint has no middle",
    ),
    "side twice": Bad(
        old='["left", "right"]',
        new='["left", "left"]',
        at='["left", "left"]',
        field="regions[1].sides",
        found='["left", "left"]',
        allowed="each only once",
    ),
    "no side": Bad(
        old='["left", "right"]',
        new="[]",
        at="sides = []",
        field="regions[1].sides",
        found="[]",
        allowed='at least 1, such as ["left", "right"]',
    ),
    "aspect that the joint does not have": Bad(
        old='["lateral", "cranial"]',
        new='[\n  "lateral",\n  "palmar",\n]',
        at="palmar",
        field="regions[2].aspects[2]",
        found='"palmar"',
        allowed="lateral, cranial, caudal",
    ),
    "aspect of the spine": Bad(
        old="spots = 4",
        new='spots = 4\naspects = ["lateral"]',
        at="aspects",
        field="regions[1].aspects[1]",
        found='"lateral"',
        allowed="no aspects: lumbar spine, L1-L7 has none",
    ),
    "joint without an aspect": Bad(
        old='aspects = ["lateral", "cranial"]\n',
        new="",
        at='[[regions]]\nregion = "hip"',
        field="regions[2].aspects",
        found="nothing",
        allowed="some of lateral, cranial, caudal",
    ),
    # Dose
    "no dose": Bad(
        old="seconds_each_spot = 40\n",
        new="",
        at="[[regions]]",
        field="regions[1].seconds_each_spot",
        found="nothing",
        allowed="seconds_each_spot, joules_each_spot or joules_per_cm2_each_spot",
    ),
    "seconds and joules that disagree": Bad(
        old="seconds_each_spot = 40",
        new="seconds_each_spot = 40\njoules_each_spot = 6",
        at="seconds_each_spot",
        field="regions[1].seconds_each_spot",
        found="40 s beside 6 J",
        allowed="about 60.0 s at this mean power, within 5 %",
        hint="energy = mean power × duration = 0.1 W × 40 s = 4 J, -33.3 %",
    ),
    "seconds that are minutes of the target": Bad(
        old="seconds_each_spot = 40",
        new="seconds_each_spot = 1.5\njoules_each_spot = 9",
        at="seconds_each_spot",
        field="regions[1].seconds_each_spot",
        found="1.5 s beside 9 J",
        allowed="about 90.0 s at this mean power, within 5 %",
        hint="energy = mean power × duration = 0.1 W × 1.5 s = 0.15 J, -98.3 %; minutes written as "
        "seconds? 1.5 min",
    ),
    "power a thousand times too small for the target": Bad(
        old="seconds_each_spot = 40",
        new="seconds_each_spot = 1.2\njoules_each_spot = 120",
        at="seconds_each_spot",
        field="regions[1].seconds_each_spot",
        found="1.2 s beside 120 J",
        allowed="about 1200.0 s at this mean power, within 5 %",
        hint="energy = mean power × duration = 0.1 W × 1.2 s = 0.12 J, -99.9 %; W written as mW? "
        "100 W for 100 mW; mJ written as J?",
    ),
    "J and J/cm2 that disagree": Bad(
        old="joules_each_spot = 4",
        new="joules_each_spot = 4\njoules_per_cm2_each_spot = 4",
        at="joules_per_cm2_each_spot",
        field="regions[2].joules_per_cm2_each_spot",
        found="4 J/cm2 beside 4 J",
        allowed="J and J/cm2 that agree over the beam area within 5 %",
        hint="fluence = energy / beam area = 4 J / 0.5 cm2 = 8 J/cm2, +100.0 %",
    ),
    "J/cm2 over no area": Bad(
        old="beam_area_cm2 = 0.5\n",
        new="",
        at="joules_per_cm2_each_spot",
        field="regions[2].joules_per_cm2_each_spot",
        found="8 J/cm2 but no beam area",
        allowed="J/cm2 only with beam_area_cm2 in [laser]",
    ),
    "target that takes for ever": Bad(
        old="joules_each_spot = 4",
        new="joules_each_spot = 290",
        at="joules_each_spot",
        field="regions[2].joules_each_spot",
        found="a target that takes 2900.0 s a spot",
        allowed="1 to 1800 s a spot",
        hint="is the mean power right?",
    ),
    # The laser
    "no power": Bad(
        old="mean_power_mw = 100\n",
        new="",
        at="[laser]",
        field="laser.mean_power_mw",
        found="nothing",
        allowed="the mean power in mW, or a table [laser.pulsed] from which it follows",
    ),
    "peak power for the mean": Bad(
        old="mean_power_mw = 100\nbeam_area_cm2 = 0.5\n",
        new="mean_power_mw = 400\n" + PULSED + "duty_cycle = 0.25\n",
        at="mean_power_mw",
        field="laser.mean_power_mw",
        found="400 mW",
        allowed="about 100.0 mW, peak power x duty cycle",
        hint="this looks like the peak power",
    ),
    "frequency without a width": Bad(
        old="beam_area_cm2 = 0.5\n",
        new=PULSED + "frequency_hz = 5000\n",
        at="[laser.pulsed]",
        field="laser.pulsed.pulse_width_us",
        found="nothing",
        allowed="both pulse_width_us and frequency_hz, or neither",
    ),
    "pulses without a duty cycle": Bad(
        old="beam_area_cm2 = 0.5\n",
        new=PULSED,
        at="[laser.pulsed]",
        field="laser.pulsed.duty_cycle",
        found="nothing",
        allowed="the duty cycle, or both pulse_width_us and frequency_hz",
    ),
    "pulses longer than their interval": Bad(
        old="beam_area_cm2 = 0.5\n",
        new=PULSED + "frequency_hz = 5000\npulse_width_us = 400\n",
        at="pulse_width_us",
        field="laser.pulsed.pulse_width_us",
        found="pulses on for 200 % of the time",
        allowed="at most 100 %",
    ),
    "duty cycle that the pulses do not have": Bad(
        old="mean_power_mw = 100\nbeam_area_cm2 = 0.5\n",
        new=PULSED + "duty_cycle = 0.25\nfrequency_hz = 5000\npulse_width_us = 100\n",
        at="duty_cycle",
        field="laser.pulsed.duty_cycle",
        found="25 %",
        allowed="about 50 %, from pulse width and frequency",
    ),
    "pulses that give nothing": Bad(
        old="mean_power_mw = 100\nbeam_area_cm2 = 0.5\n",
        new=PULSED + "duty_cycle = 0.000001\n",
        at="[laser.pulsed]",
        field="laser.pulsed",
        found="a mean power of 0.000 mW, peak power x duty cycle",
        allowed="1 to 30000 mW",
    ),
    # Dates
    "expired": Bad(
        old="valid_until = 2026-12-31",
        new="valid_until = 2026-11-24",
        at="valid_until",
        field="plan.valid_until",
        found="2026-11-24: this plan has run out",
        allowed="today (2026-11-25) or later",
        hint="ask the prescriber for a new revision",
    ),
    "valid before it was written": Bad(
        old="valid_until = 2026-12-31",
        new="valid_until = 2026-10-31",
        at="valid_until",
        field="plan.valid_until",
        found="2026-10-31",
        allowed="2026-11-01 (prescribed_on) or later",
    ),
    # No TOML
    "decimal comma": Bad(
        old="weight_kg = 9.5",
        new="weight_kg = 9,5",
        at="weight_kg",
        field="dog.weight_kg",
        found="weight_kg = 9,5",
        allowed=TOML,
        hint="write decimals with a point, such as 0.5",
    ),
    "unit after a number": Bad(
        old="mean_power_mw = 100",
        new="mean_power_mw = 100 mW",
        at="mean_power_mw",
        field="laser.mean_power_mw",
        found="mean_power_mw = 100 mW",
        allowed=TOML,
        hint="write the number without its unit",
    ),
    "minutes and seconds": Bad(
        old="seconds_each_spot = 40",
        new="seconds_each_spot = 1:30",
        at="seconds_each_spot",
        field="regions[1].seconds_each_spot",
        found="seconds_each_spot = 1:30",
        allowed=TOML,
        hint="write minutes and seconds as seconds, such as 90",
    ),
    "day first": Bad(
        old="valid_until = 2026-12-31",
        new="valid_until = 31.12.2026",
        at="valid_until",
        field="plan.valid_until",
        found="valid_until = 31.12.2026",
        allowed=TOML,
        hint="write dates as year-month-day, such as 2026-11-25",
    ),
    "30 February": Bad(
        old="valid_until = 2026-12-31",
        new="valid_until = 2027-02-30",
        at="valid_until",
        field="plan.valid_until",
        found="valid_until = 2027-02-30",
        allowed=TOML,
        hint="there is no such date",
    ),
    "curly quotes": Bad(
        old='"Juniper"',
        new="\u201cJuniper\u201d",
        at="name",
        field="dog.name",
        found="name = \u201cJuniper\u201d",
        allowed=TOML,
        hint='use straight quotes: "',
    ),
    "no quotes": Bad(
        old='"Juniper"',
        new="Juniper",
        at="name",
        field="dog.name",
        found="name = Juniper",
        allowed=TOML,
        hint='put text in quotes: "..."',
    ),
    "quote left open": Bad(
        old='"Juniper"',
        new='"Juniper',
        at="name",
        field="dog.name",
        found='name = "Juniper',
        allowed=TOML,
        hint="a closing quote is missing",
    ),
    "control character as it is": Bad(
        old='"Juniper"',
        new='"Juni\x1b[2Jper"',
        at="name",
        field="dog.name",
        found='name = "Juni\\x1b[2Jper"',
        allowed=TOML,
        hint="a character that does not show",
    ),
    "True": Bad(
        old="seconds_each_side = 30",
        new="leave_out = True",
        at="leave_out",
        field="settle.leave_out",
        found="leave_out = True",
        allowed=TOML,
        hint="write true or false, in small letters",
    ),
    "number past all reading": Bad(
        old="revision = 3",
        new="revision = " + "9" * 5000,
        at="revision",
        field="plan.revision",
        found="a number that is far too long",
        allowed=TOML,
    ),
    "colon for the equals sign": Bad(
        old='id = "spine"',
        new='id: "spine"',
        at="id:",
        field="",
        found='id: "spine"',
        allowed=TOML,
        hint="write = between a name and its value",
    ),
    "name twice": Bad(
        old="weight_kg = 9.5",
        new='weight_kg = 9.5\nname = "Clover"',
        at='name = "Clover"',
        field="",
        found='name = "Clover"',
        allowed=TOML,
        hint="this name stands twice in its table",
    ),
    "table twice": Bad(
        old="[settle]",
        new="[laser]",
        at="[laser]\nseconds",
        field="",
        found="[laser]",
        allowed=TOML,
        hint="this table stands twice",
    ),
    "one bracket for a second region": Bad(
        old='[[regions]]\nregion = "hip"',
        new='[regions]\nregion = "hip"',
        at='[regions]\nregion = "hip"',
        field="",
        found="[regions]",
        allowed=TOML,
        hint="write [[regions]] each time, with two brackets",
    ),
    "list left open": Bad(
        old='["left", "right"]',
        new='["left", "right"',
        at="spots = 4",
        field="",
        found="spots = 4",
        allowed=TOML,
        hint="a list that begins further up has no closing ]",
    ),
}


def broken(case: Bad) -> str:
    text = changed((case.old, case.new))
    if case.old.startswith("beam_area_cm2 = 0.5\n") and not case.new:
        text = changed(("joules_each_spot = 4", "joules_per_cm2_each_spot = 8"), text=text)
    return text


def test_there_are_enough_of_them() -> None:
    assert len(BAD) >= 45


@pytest.mark.parametrize("case", BAD.values(), ids=BAD)
def test_bad_plan(case: Bad) -> None:
    text = broken(case)
    (problem,) = problems_of(text)
    line = None if case.at is None else line_in(text, case.at)
    assert problem.file == "spine.toml"
    assert (problem.line, problem.found, problem.allowed, problem.hint) == (
        line,
        case.found,
        case.allowed,
        case.hint,
    )
    place = "spine.toml" if line is None else f"spine.toml:{line}"
    assert str(problem).startswith(f"{place}:")
    assert f"found {case.found}; allowed: {case.allowed}" in str(problem)
    assert str(problem).isprintable()
