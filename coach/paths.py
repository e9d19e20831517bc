"""Where things are kept. ``COACH_HOME`` puts everything under one folder (tests, demo sticks)."""

import os
import re
import unicodedata
from importlib.resources import files
from pathlib import Path

import platformdirs

APP = "dog-bed-coach"
JOURNALS = "journals"
SUMMARY = "summary"


def state_folder() -> Path:
    """Dogs, their plans and their journals."""
    home = os.environ.get("COACH_HOME")
    return Path(home) / "state" if home else Path(platformdirs.user_state_dir(APP))


def dogs_folder() -> Path:
    """A folder a dog."""
    return state_folder() / "dogs"


def cache_folder() -> Path:
    """Rendered speech; may be deleted at any time."""
    home = os.environ.get("COACH_HOME")
    return Path(home) / "cache" if home else Path(platformdirs.user_cache_dir(APP))


def settings_file() -> Path:
    """What the owner has set: voice and keys."""
    home = os.environ.get("COACH_HOME")
    folder = Path(home) / "config" if home else Path(platformdirs.user_config_dir(APP))
    return folder / "settings.toml"


def dog_folder(name: str) -> Path:
    """The folder of one dog, named so that every file system can hold it."""
    plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode().lower()
    slug = re.sub(r"[^a-z0-9]+", "-", plain).strip("-")
    if not slug:
        slug = "dog-" + "-".join(f"{ord(character):x}" for character in name[:8])
    return state_folder() / "dogs" / slug


def journal_folder(dog: str, *, rehearsal: bool) -> Path:
    """Where a dog's journals are; rehearsals lie apart, they never count."""
    return dog_folder(dog) / ("rehearsals" if rehearsal else JOURNALS)


def summary_folder(dog: str) -> Path:
    """Where the summary of a dog's journals is kept; may be deleted at any time."""
    return dog_folder(dog) / SUMMARY


def household_file() -> Path:
    """Who treats the dogs of this household."""
    return state_folder() / "household.toml"


def device_key_file() -> Path:
    """The private key with which this device signs its journals."""
    return state_folder() / "device-key.pem"


def reminded_file() -> Path:
    """On which day each dog's reminder was spoken last."""
    return state_folder() / "reminded.json"


def prescriber_keys_file() -> Path:
    """The public keys of prescribers that are known here, with their names."""
    return state_folder() / "prescriber-keys.json"


def own_plans() -> list[Path]:
    """The plan of each dog that has one: ``dogs/NAME/plan.toml``."""
    return sorted((state_folder() / "dogs").glob("*/plan.toml"))


def demo_plan() -> Path:
    """The plan that is rehearsed when none is named."""
    packaged = Path(str(files("coach"))) / "_plans"
    folder = packaged if packaged.is_dir() else Path(__file__).parent.parent / "plans"
    return folder / "demo-long-back.toml"
