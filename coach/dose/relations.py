"""How the quantities of a dose hang together: products, and everything that follows from some.

Each relation says ``product = factor x factor`` in watts, seconds, joules and square
centimetres. Sources: duty cycle and mean power, Suarez Redondo & Stephens, Veterinary Laser
Therapy in Small Animal Practice, 5M 2019, p. 110; pulse energy, from memory; energy and fluence,
BC Physical Therapy Tendinopathy Task Force toolkit, appendix B; irradiance over the beam area at
the skin, Support Care Cancer 2016;24:2781, table 1; swept area, computed (the tables of the 2019
book and of Alves 2022 close only this way).
"""

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from types import MappingProxyType

from coach.dose.quantity import Quantity, label, plain

RELATIONS: tuple[tuple[Quantity, Quantity, Quantity], ...] = (
    ("duty_cycle_percent", "pulse_width_us", "frequency_hz"),
    ("mean_power_mw", "peak_power_mw", "duty_cycle_percent"),
    ("pulse_energy_uj", "peak_power_mw", "pulse_width_us"),
    ("mean_power_mw", "pulse_energy_uj", "frequency_hz"),
    ("energy_j", "mean_power_mw", "duration_s"),
    ("mean_power_mw", "irradiance_mw_cm2", "beam_area_cm2"),
    ("energy_j", "fluence_j_cm2", "beam_area_cm2"),
    ("fluence_j_cm2", "irradiance_mw_cm2", "duration_s"),
    ("energy_j", "swept_fluence_j_cm2", "swept_area_cm2"),
)

# Coherent unit of each quantity, and the size in it of the unit that its name ends in.
COHERENT: Mapping[Quantity, tuple[str, Fraction]] = MappingProxyType(
    {
        "duty_cycle_percent": ("", Fraction(1, 100)),
        "pulse_width_us": ("s", Fraction(1, 10**6)),
        "frequency_hz": ("Hz", Fraction(1)),
        "peak_power_mw": ("W", Fraction(1, 1000)),
        "mean_power_mw": ("W", Fraction(1, 1000)),
        "pulse_energy_uj": ("J", Fraction(1, 10**6)),
        "duration_s": ("s", Fraction(1)),
        "energy_j": ("J", Fraction(1)),
        "beam_area_cm2": ("cm2", Fraction(1)),
        "irradiance_mw_cm2": ("W/cm2", Fraction(1, 1000)),
        "fluence_j_cm2": ("J/cm2", Fraction(1)),
        "swept_area_cm2": ("cm2", Fraction(1)),
        "swept_fluence_j_cm2": ("J/cm2", Fraction(1)),
    }
)

Values = Mapping[Quantity, Fraction]


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One line of arithmetic and the quantities it rests on."""

    text: str
    rests_on: tuple[Quantity, Quantity]


@dataclass(frozen=True, slots=True, kw_only=True)
class Closure:
    """Some quantities, all that follow from them, and how."""

    values: Values
    steps: Mapping[Quantity, Step]

    def arithmetic(self, quantity: Quantity) -> str:
        """Every step that leads to ``quantity``, in order; "" when it was given."""
        lines: dict[str, None] = {}
        self._collect(quantity, lines)
        return "; ".join(lines)

    def _collect(self, quantity: Quantity, lines: dict[str, None]) -> None:
        step = self.steps.get(quantity)
        if step is not None:
            for other in step.rests_on:
                self._collect(other, lines)
            lines[step.text] = None


def closure(given: Values) -> Closure:
    """Everything that follows from ``given``, in the units of the names. Exact.

    ``given`` is taken as it is, without looking whether it contradicts itself.
    """
    values = dict(given)
    steps: dict[Quantity, Step] = {}
    grew = True
    while grew:
        grew = False
        for relation in RELATIONS:
            missing = [quantity for quantity in relation if quantity not in values]
            if len(missing) == 1:
                wanted = missing[0]
                values[wanted], steps[wanted] = _solve(relation, wanted, values)
                grew = True
    return Closure(values=values, steps=steps)


def _solve(
    relation: tuple[Quantity, Quantity, Quantity], wanted: Quantity, values: Values
) -> tuple[Fraction, Step]:
    product, *factors = relation
    if wanted == product:
        left, right = factors
        exact = _coherent(left, values[left]) * _coherent(right, values[right])
        sign = "×"
    else:
        left = product
        right = factors[0] if wanted == factors[1] else factors[1]
        exact = _coherent(left, values[left]) / _coherent(right, values[right])
        sign = "/"
    value = exact / COHERENT[wanted][1]
    text = (
        f"{label(wanted)} = {label(left)} {sign} {label(right)} = "
        f"{shown(left, values[left])} {sign} {shown(right, values[right])} = "
        f"{shown(wanted, value)}"
    )
    return value, Step(text=text, rests_on=(left, right))


def shown(quantity: Quantity, value: Fraction) -> str:
    """A value in its coherent unit: ``1.208 W``."""
    unit = COHERENT[quantity][0]
    return f"{plain(_coherent(quantity, value))} {unit}".rstrip()


def _coherent(quantity: Quantity, value: Fraction) -> Fraction:
    return value * COHERENT[quantity][1]
