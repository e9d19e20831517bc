"""Does the class that a plan states fit the power? A question, never a classification.

Limits for a point source and a continuous beam, IEC 60825-1:2014, tables 3 to 8 (second-hand: two
transcriptions into code; ``lasercalc`` has the same and is the referee of the tests). A pulsed head
is held to them with its mean power, which it may in no class exceed. Classes 1M, 2M and 1C measure
otherwise: of 1M and 2M only the limit of class 3B is asked for, and 1C rests on its interlock.
"""

from collections.abc import Sequence
from fractions import Fraction

from coach.dose.limits import c_3, c_a, c_c
from coach.units import UW_PER_MW

# Above 0.5 W nothing but class 4 is left.
MOST_3B_UW = 500_000


def class_1_w(*, wavelength_nm: float) -> float:
    """Limit of class 1: 3.9e-4·C_4·C_7 W, and below 500 nm 3.9e-5·C_3 W where that is less."""
    thermal = 3.9e-4 * c_a(wavelength_nm=wavelength_nm) * c_c(wavelength_nm=wavelength_nm)
    if wavelength_nm < 500:
        return min(thermal, 3.9e-5 * c_3(wavelength_nm=wavelength_nm))
    return thermal


def class_3r_w(*, wavelength_nm: float) -> float:
    """Limit of class 3R: 5 mW for visible light, else five times that of class 1."""
    return 5e-3 if wavelength_nm < 700 else 5 * class_1_w(wavelength_nm=wavelength_nm)


def class_question(laser_class: str, sources: Sequence[tuple[Fraction, int]]) -> str | None:
    """What to ask about ``laser_class``; None where nothing speaks against it.

    ``sources``: wavelength in nm and mean power in microwatts of each; several add up as shares of
    their limits.
    """
    power_uw = sum(power for _, power in sources)
    shown = f"{float(Fraction(power_uw, UW_PER_MW)):g} mW"
    if laser_class == "4":
        return None
    if laser_class != "1C" and power_uw > MOST_3B_UW:
        return (
            f"{shown} is more than a laser of class 3B may give (500 mW), the highest below 4, and "
            f"the plan says class {laser_class}: is the class or the power right?"
        )
    if laser_class == "3B":
        return None
    if laser_class in ("2", "2M") and any(wave >= 700 for wave, _ in sources):
        return f"class {laser_class} is for visible light only (400 to 700 nm): is the class right?"
    if laser_class in ("1M", "2M"):
        return None
    share = sum(float(power) / 1e6 / _limit_w(laser_class, float(wave)) for wave, power in sources)
    if share <= 1:
        return None
    if laser_class == "1C":
        return (
            f"class 1C with {shown}: it holds only while the head switches itself off when it is "
            "lifted; is that switch there, and checked?"
        )
    return (
        f"{shown} is {share:.3g} times what class {laser_class} may give as a point source: is the "
        "class or the power right?"
    )


def _limit_w(laser_class: str, wavelength_nm: float) -> float:
    if laser_class == "2":
        return 1e-3
    if laser_class == "3R":
        return class_3r_w(wavelength_nm=wavelength_nm)
    return class_1_w(wavelength_nm=wavelength_nm)
