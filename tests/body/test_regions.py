"""The region file: complete, in the trade's order, and refused with its line when it is wrong."""

from importlib.resources import files

import pytest

from coach.body import region, regions
from coach.body.regions import RegionFileError, read_regions

# Names and order: nomenclature of the trade (Nomina Anatomica Veterinaria terms). UBERON ids:
# the UBERON anatomy ontology, CC BY 3.0, snapshot of 2026-04-01, read there.
UBERON = {
    "atlas": ("0001092",),
    "neck_upper": ("0006072",),
    "neck_lower": ("0006072",),
    "cervicothoracic": ("0004616", "0004626"),
    "thoracic": ("0006073",),
    "thoracolumbar": ("0004617",),
    "lumbar": ("0006074",),
    "lumbosacral": ("0004622",),
    "sacrum": ("0003690",),
    "tail_base": ("0006076",),
    "shoulder": ("0016884",),
    "elbow": ("0001490",),
    "carpus": ("0004452",),
    "forepaw": ("0002398",),
    "hip": ("0001486",),
    "stifle": ("0011123",),
    "hock": ("0004454",),
    "hindpaw": ("0002387",),
}
TEXT = (files("coach.body") / "regions.toml").read_text(encoding="utf-8")


def test_all_regions_head_to_tail_then_limbs() -> None:
    assert {key: place.uberon for key, place in regions().items()} == UBERON
    assert list(regions()) == list(UBERON)


@pytest.mark.parametrize("key", UBERON)
def test_every_region_is_complete(key: str) -> None:
    place = region(key)
    assert place.key == key
    for words in (place.term, place.owner_words, place.spoken, place.block):
        assert words == words.strip() != ""
    for sentence in (place.feel, place.hold, *place.cautions):
        assert sentence[0].isupper()
        assert sentence[-1] in ".!"
    assert place.cautions
    assert place.reach


# Common practice, no source: the neck from its two sides, the rest of the spine also on its
# middle, a limb on the left or on the right.
@pytest.mark.parametrize("key", UBERON)
def test_sides_and_aspects(key: str) -> None:
    place = region(key)
    neck = key in {"atlas", "neck_upper", "neck_lower"}
    assert place.kind == ("axial" if list(UBERON).index(key) < 10 else "limb")
    both = ("left", "right")
    assert place.sides == (both if neck or place.kind == "limb" else ("left", "middle", "right"))
    assert bool(place.aspects) == (place.kind == "limb")


# Anatomical direction terms (Nomina Anatomica Veterinaria, from memory): dorsal, palmar and
# plantar replace cranial and caudal from the carpus and the tarsus down.
@pytest.mark.parametrize(
    ("key", "aspects"),
    [
        ("shoulder", {"lateral", "cranial", "caudal"}),
        ("elbow", {"lateral", "medial", "cranial", "caudal"}),
        ("carpus", {"dorsal", "medial", "lateral", "palmar"}),
        ("forepaw", {"dorsal", "palmar"}),
        ("hip", {"lateral", "cranial", "caudal"}),
        ("stifle", {"lateral", "medial", "cranial", "caudal"}),
        ("hock", {"dorsal", "medial", "lateral", "plantar"}),
        ("hindpaw", {"dorsal", "plantar"}),
    ],
)
def test_aspects_of_each_joint(key: str, aspects: set[str]) -> None:
    assert set(region(key).aspects) == aspects


# Heard wrong by an open-vocabulary recogniser in a test of 40 spoken cues.
WEAK_BY_EAR = {"paw", "paws", "site", "goggles", "paused", "stopped"}


@pytest.mark.parametrize("key", UBERON)
def test_spoken_words_are_few_and_strong(key: str) -> None:
    words = region(key).spoken.split()
    assert 1 <= len(words) <= 4
    assert not WEAK_BY_EAR & set(words)
    assert words[-1] != "hip"


def test_spoken_and_block_words_tell_regions_apart() -> None:
    assert len({place.spoken for place in regions().values()}) == 18
    assert len({place.block for place in regions().values()}) == 18


# Measured on one open mesh of a dog: at C5 the bone lies 98 mm below the top line but only 50 mm
# from the side, and the tip of the last rib lies 55 mm behind the joint that it leads to.
def test_landmarks_that_go_wrong_when_said_the_simple_way() -> None:
    for key in ("neck_upper", "neck_lower"):
        assert "side" in region(key).feel
        assert "SIDE" in region(key).hold
        assert "not on top" in region(key).hold
    assert "up and FORWARD to the spine" in region("thoracolumbar").feel


# Navratil & Kymplova, J Clin Laser Med Surg 2002;20:341, and the North American consensus 2010:
# eyes, the front of the neck, pregnancy; testes and growth plates as doubtful.
@pytest.mark.parametrize(
    ("key", "word"),
    [
        ("atlas", "eyes"),
        ("neck_upper", "thyroid"),
        ("neck_lower", "thyroid"),
        ("lumbar", "pregnant"),
        ("sacrum", "pregnant"),
        ("hip", "testes"),
        ("stifle", "testes"),
        ("elbow", "growth plates"),
    ],
)
def test_cautions(key: str, word: str) -> None:
    assert word in " ".join(region(key).cautions).lower()


def test_a_region_more_is_a_change_of_data_only() -> None:
    elbow = TEXT[TEXT.index("[elbow]") : TEXT.index("[carpus]")]
    more = elbow.replace("[elbow]", "[elbow_again]")
    found = read_regions(f"{TEXT}\n{more}")
    assert list(found) == [*UBERON, "elbow_again"]
    assert found["elbow_again"].aspects == region("elbow").aspects


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ('spoken = "knee"\n', "", "stifle.spoken is missing"),
        ('spoken = "knee"', 'spoken = "the left or right knee"', "at most 4 words"),
        ('block = "KNEE"', 'block = "knee"', "10 capitals"),
        ('block = "KNEE"', 'block = "KNEE OF THE DOG"', "10 capitals"),
        ('spoken = "knee"', "spoken = 7", "allowed: words"),
        ('spoken = "knee"', 'speak = "knee"', "stifle.speak is not a field"),
        ('uberon = ["0011123"]', 'uberon = ["UBERON:1"]', "7 digits"),
        ('uberon = ["0011123"]', 'uberon = "0011123"', "allowed: a list of words"),
        ('aspects = ["medial", ', 'aspects = ["inner", ', "allowed: lateral, medial"),
        ('aspects = ["medial", ', 'aspects = ["lateral", ', "each once"),
        ('"A male dog: on the inside keep off the testes.",\n', "7,\n", "stifle.cautions is"),
    ],
)
def test_a_wrong_region_is_refused_with_its_line(old: str, new: str, says: str) -> None:
    assert old in TEXT
    with pytest.raises(RegionFileError) as caught:
        read_regions(TEXT.replace(old, new, 1))
    message = str(caught.value)
    assert says in message
    field = message.split("stifle.")[1].split()[0]
    line = int(message.split("line ")[1].split(":")[0])
    there = TEXT.replace(old, new, 1).splitlines()[line - 1]
    assert there.startswith((f"{field} =", "[stifle]"))


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ("point = true", "point = 1", "atlas.point is 1; allowed: true or false"),
        ('kind = "axial"', 'kind = "spine"', "atlas.kind is 'spine'; allowed: axial, limb"),
        ('kind = "axial"', 'kind = "limb"', "atlas.aspects allowed: some for a limb"),
        ('["left", "right"]', '["left", "both"]', "atlas.sides is ['left', 'both']"),
        ('["left", "right"]', "[]", "atlas.sides is empty"),
        ('["sternal", "standing"]', '["sitting"]', "atlas.reach is ['sitting']"),
        ("[atlas]", "atlas = 1\n[other]", "atlas. is 1; allowed: a table"),
        ("[atlas]", "[atlas", "regions.toml: "),
    ],
)
def test_other_slips(old: str, new: str, says: str) -> None:
    with pytest.raises(RegionFileError) as caught:
        read_regions(TEXT.replace(old, new, 1))
    assert says in str(caught.value)


def test_all_slips_are_told_at_once() -> None:
    text = TEXT.replace('spoken = "knee"\n', "").replace('block = "ELBOW"', 'block = "e"')
    with pytest.raises(RegionFileError) as caught:
        read_regions(text)
    assert "stifle.spoken" in str(caught.value)
    assert "elbow.block" in str(caught.value)


def test_sides_that_cannot_be_reached_are_refused() -> None:
    head, tail = TEXT.split("[tail_base]")
    tail = tail.replace('reach = ["sternal", "standing"]', 'reach = ["this side up"]', 1)
    with pytest.raises(RegionFileError, match=r"tail_base\.reach"):
        read_regions(f"{head}[tail_base]{tail}")
    tail = TEXT.split("[hip]")[1].replace('["left", "right"]', '["left", "middle"]', 1)
    with pytest.raises(RegionFileError, match=r"hip\.sides"):
        read_regions(f"[hip]{tail}")
