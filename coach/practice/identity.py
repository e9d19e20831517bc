"""Which handovers are of one dog, though a computer was replaced. Pure.

One dog are: the same computer and name; the same chip (ISO 11784: no two dogs have one); the same
patient number of the same practice with the same name; and what the practice says in its file.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass

from coach.practice.rules import SameDog


@dataclass(frozen=True, slots=True, order=True)
class Known:
    """By what a dog is known in one handover."""

    device: str
    dog: str
    patient_number: str
    chip: str
    clinic: str


def dog_keys(
    known: Iterable[Known], same: Sequence[SameDog]
) -> tuple[dict[tuple[str, str], str], list[str]]:
    """A key for each computer and name, alike for one dog; and what is to be told."""
    joined: dict[str, str] = {}
    remarks: list[str] = []

    def root(node: str) -> str:
        while joined.setdefault(node, node) != node:
            joined[node] = joined[joined[node]]
            node = joined[node]
        return node

    def join(one: str, other: str) -> None:
        low, high = sorted((root(one), root(other)))
        joined[high] = low

    dogs: dict[tuple[str, str], str] = {}
    chips: dict[str, set[str]] = {}
    numbers: dict[tuple[str, str], dict[str, str]] = {}
    for one in sorted(known):
        key = dogs.setdefault((one.device, one.dog), f"{one.device}/{one.dog}")
        root(key)
        if one.chip:
            names = chips.setdefault(one.chip, set())
            join(key, f"~chip/{one.chip}")
            names.add(one.dog)
        if one.patient_number:
            by_name = numbers.setdefault((one.clinic, one.patient_number), {})
            join(key, by_name.setdefault(one.dog.casefold(), key))
    for chip, names in sorted(chips.items()):
        if len({name.casefold() for name in names}) > 1:
            told = f"chip {chip}: {' and '.join(sorted(names))} are taken as one dog"
            remarks.append(f"{told}; is one of the plans wrong?")
    for (_clinic, number), by_name in sorted(numbers.items()):
        if len({root(key) for key in by_name.values()}) > 1:
            names_ = " and ".join(sorted(key.split("/", 1)[1] for key in by_name.values()))
            remarks.append(f"patient number {number}: given to {names_}; taken as two dogs")
    remarks += _said(dogs, same, join)
    return {dog: root(key) for dog, key in dogs.items()}, remarks


def _said(
    dogs: Mapping[tuple[str, str], str],
    same: Sequence[SameDog],
    join: Callable[[str, str], None],
) -> list[str]:
    """Join what the practice says is one dog; tells what it may have meant."""
    remarks = []
    for one in same:
        found: list[str] = []
        for begin in one.devices:
            keys = [
                key
                for (device, dog), key in dogs.items()
                if dog == one.dog and device.startswith(begin)
            ]
            if not keys:
                told = f"no handover of {one.dog} from a computer whose key begins with {begin}"
                remarks.append(f"same_dog: {told}")
            found += keys
        for key in found[1:]:
            join(found[0], key)
    return remarks
