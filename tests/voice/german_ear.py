"""An English ear that was taught our German words.

No recogniser for German comes as a wheel. CMU pocketsphinx hears English sounds; here each German
word is spelled in the nearest of them, from memory, and the lines of the demo plans are all that
it may choose from. The r of the throat and the ch have no English sound, so that these have several
spellings. It tells whether one line can be taken for another. It does not tell whether a
German finds the voice good to hear.
"""

import re
from collections.abc import Iterable

from tests.voice.hearing import Ear

UMLAUTS = str.maketrans({"ä": "ae", "ö": "oe", "ü": "ue", "ß": "ss"})

SOUNDS = """
abheben AA P HH EY B AH N
acht AA K T
achtzehn AA K T S EY N
alles AA L AH S
am AA M
auf AW F
ausgelassen AW S G AH L AA S AH N
ausschalten AW S SH AA L T AH N
aussen AW S AH N
beendet B AH EH N D AH T
beginn B AH G IH N
bereit B AH R AY T
brust B R UH S T
der D EH R
des D EH S
die D IY
dieser D IY Z ER
drehen D R EY AH N
drei D R AY
drei(2) D HH AY
drei(3) D G AY
drei(4) D AH AY
dreizehn D R AY T S EY N
druecken D R UH K AH N
eine AY N AH
einmal AY N M AA L
eins AY N S
elf EH L F
fertig F EH R T IH SH
fuenf F UH N F
fuenfzehn F UH N F T S EY N
geantwortet G AH AA N T V AO R T AH T
genick G AH N IH K
halbzeit HH AA L P T S AY T
hals HH AA L S
halten HH AA L T AH N
hat HH AA T
hinten HH IH N T AH N
hueftknochen HH UH F T K N AO K AH N
huefte HH UH F T AH
hund HH UH N T
hundes HH UH N D AH S
innen IH N AH N
ist IH S T
knie K N IY
laser L EY Z ER
lendenbereich L EH N D AH N B AH R AY SH
letzte L EH T S T AH
liegt L IY K T
linke L IH NG K AH
links L IH NG K S
mitte M IH T AH
mulde M UH L D AH
nach N AA K
neun N OY N
neunzehn N OY N T S EY N
niemand N IY M AA N T
noch N AO K
oben OW B AH N
pause P AW Z AH
protokoll P R OW T OW K AO L
punkt P UH NG K T
rechte R EH SH T AH
rechts R EH SH T S
rechts(2) HH EH SH T S
rechts(3) AH EH SH T S
rechts(4) R EH SH S
rechts(5) G EH SH S
rechts(6) HH EH HH T S
rechts(7) R EH K S
rippe R IH P AH
ruecken R UH K AH N
schwanzwurzel SH V AA N T S V UH R T S AH L
sechs Z EH K S
sechzehn Z EH SH T S EY N
seine Z AY N AH
seite Z AY T AH
seitlich Z AY T L IH SH
sekunde Z EH K UH N D AH
sekunden Z EH K UH N D AH N
sieben Z IY B AH N
siebzehn Z IY P T S EY N
starten SH T AA R T AH N
verloren F ER L OW R AH N
vier F IY R
vierzehn F IY R T S EY N
von F AO N
vorn F AO R N
weiter V AY T ER
wenn V EH N
zehn T S EY N
zurueck T S UH R UH K
zwanzig T S V AA N T S IH SH
zwei T S V AY
zwischen T S V IH SH AH N
zwoelf T S V EH L F
"""


# Some are English words as well, with other sounds: ours have a letter more.
TAUGHT = {
    re.sub("^[a-z]+", r"\g<0>x", word): sounds
    for word, _blank, sounds in (line.partition(" ") for line in SOUNDS.strip().splitlines())
}


def german_words(text: str) -> list[str]:
    """The words as they are spoken, in the letters that the recogniser takes."""
    return [f"{word}x" for word in re.findall(r"[a-z]+", text.lower().translate(UMLAUTS))]


def german_ear(texts: Iterable[str]) -> Ear:
    """Hears one of ``texts``."""
    return Ear(texts, taught=TAUGHT, split=german_words)
