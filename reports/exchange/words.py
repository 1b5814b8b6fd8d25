"""The words of tables: how sides, sites, reasons and answers are written in the trade. One place, data only.

English trade abbreviations. Common practice, no source: the lists grow by what clinics send. Words are
compared without case, accents and punctuation (`key`). What is not here is asked, never guessed.
"""

import re
import unicodedata
from collections.abc import Mapping
from typing import Any

from exams.visits.models import Indication, NotObtained, Site

SIDES = {
    "right": ("r", "rt", "right", "rhs", "right side", "right leg", "right foot", "right limb"),
    "left": ("l", "lt", "left", "lhs", "left side", "left leg", "left foot", "left limb"),
}

SITES = {
    Site.ARM: ("arm", "brachial", "brach", "bra", "upper arm", "brachial artery", "ba"),
    Site.POSTERIOR_TIBIAL: ("pt", "pta", "posterior tibial", "post tibial", "post tib", "tibialis posterior"),
    Site.DORSALIS_PEDIS: ("dp", "dpa", "dorsalis pedis", "dorsal pedis", "pedal", "adp"),
    Site.PERONEAL: ("per", "pero", "peroneal", "peroneal artery", "fibular"),
    Site.TOE_1: (
        "toe", "toe 1", "t1", "hallux", "great toe", "big toe", "gt", "1st toe", "first toe", "digit 1", "d1",
        "toe pressure", "tp",
    ),
    Site.TOE_2: ("toe 2", "t2", "2nd toe", "second toe", "digit 2", "d2"),
    Site.TOE_3: ("toe 3", "t3", "3rd toe", "third toe", "digit 3", "d3"),
    Site.TOE_4: ("toe 4", "t4", "4th toe", "fourth toe", "digit 4", "d4"),
    Site.TOE_5: ("toe 5", "t5", "5th toe", "fifth toe", "little toe", "digit 5", "d5"),
}  # fmt: skip
# Written often, and not one of our sites: what to say instead of guessing.
NOT_A_SITE = {
    "at": "the anterior tibial is not kept as a site of its own; if it was taken at the instep, it is DP",
    "ata": "the anterior tibial is not kept as a site of its own; if it was taken at the instep, it is DP",
    "anterior tibial": "the anterior tibial is not kept as a site; if it was taken at the instep, it is DP",
    "ankle": "which artery: posterior tibial (PT) or dorsalis pedis (DP)?",
    "pop": "pressures above the ankle are not taken in with a table",
    "popliteal": "pressures above the ankle are not taken in with a table",
    "thigh": "pressures above the ankle are not taken in with a table",
    "calf": "pressures above the ankle are not taken in with a table",
}

# What is written in a cell of a pressure instead of a number.
NOT_OCCLUDABLE = (
    "nc", "n/c", "non compressible", "noncompressible", "not compressible", "incompressible",
    "uncompressible", "calcified", "calc", "not occludable", "non occludable", "cannot be occluded",
    "unable to occlude", "could not occlude", "not occluded",
)  # fmt: skip
NO_SIGNAL = (
    "no signal", "no flow", "no pulse", "absent signal", "signal absent", "undetectable", "not detectable",
    "not detected", "no doppler signal", "inaudible", "flat trace", "flatline",
)  # fmt: skip
# Read in two ways by two people: asked, because one of them would be a wrong pressure.
TWO_MEANINGS = {
    "np": "no pulse, or not performed?",
    "ns": "no signal, or not stated?",
    "absent": "is the signal absent, or the toe or limb?",
    "nil": "no signal, or nothing measured?",
    "none": "no signal, or nothing measured?",
    "flat": "a flat trace, or lying flat?",
    "x": "not done, or crossed out?",
    "neg": "no signal, or no finding?",
    "negative": "no signal, or no finding?",
}
NOTHING = ("", "n/a", "na", "nan", "null", "blank", "missing", "nr", "not recorded", "unknown")
REASONS = {
    NotObtained.AMPUTATED: (
        "amp", "amputated", "amputation", "amputee", "bka", "aka", "tma", "below knee amputation",
        "above knee amputation", "toe amputated", "absent toe",
    ),
    NotObtained.TOE_TOO_SHORT: ("too short", "toe too short", "short toe", "toe too small"),
    NotObtained.TOE_DEFORMED: ("deformed", "toe deformed", "overlapping", "clawed", "hammer toe"),
    NotObtained.WOUND_UNDER_CUFF: ("wound", "ulcer", "ulcerated", "wound under cuff", "gangrene", "necrosis"),
    NotObtained.WOUND_AT_SENSOR: ("wound at sensor", "pulp ulcer"),
    NotObtained.DRESSING: ("dressing", "dressed", "bandage", "bandaged", "dressing not removed"),
    NotObtained.CAST: ("cast", "brace", "plaster", "pop cast", "tcc", "boot"),
    NotObtained.PAIN: ("pain", "painful", "too painful", "not tolerated", "unable to tolerate", "intolerant"),
    NotObtained.REFUSED: ("refused", "declined", "patient refused", "patient declined", "no consent"),
    NotObtained.NOT_STILL: ("tremor", "moving", "restless", "unable to keep still", "movement", "spasm"),
    NotObtained.NOT_FLAT: ("unable to lie flat", "could not lie flat", "breathless", "orthopnoea"),
    NotObtained.UNREADABLE: ("unreadable", "poor signal", "poor trace", "artefact", "noisy", "unreliable"),
    NotObtained.CUFF_SIZE: ("no cuff", "cuff size", "cuff too small", "cuff too big", "large arm", "obese"),
    NotObtained.EQUIPMENT: ("equipment fault", "fault", "broken", "machine fault", "no probe", "battery"),
    NotObtained.ARM_PROTECTED: (
        "fistula", "avf", "av fistula", "mastectomy", "lymphoedema", "lymphedema", "picc", "arm protected",
    ),
    NotObtained.CLOT: ("dvt", "suspected dvt", "clot", "thrombosis", "query dvt"),
    NotObtained.GRAFT: ("graft", "bypass", "stent", "bypass graft"),
    NotObtained.ISOLATION: ("isolation", "infection control", "barrier nursed"),
    NotObtained.TIME: ("no time", "ran out of time"),
    NotObtained.NOT_INDICATED: ("not indicated", "not required", "not requested", "not needed"),
    NotObtained.UNWELL: ("unwell", "stopped", "abandoned", "patient unwell"),
}  # fmt: skip
# Not measured, and nobody wrote why: kept in the words of the table under "other".
NO_REASON_GIVEN = ("nd", "not done", "not measured", "not obtained", "not taken", "not performed", "unable")

SEXES = {
    "female": ("f", "female", "woman", "w"),
    "male": ("m", "male", "man"),
    "other": ("o", "other", "x", "indeterminate"),
    "unknown": ("u", "unknown", "not known", "?"),
}
ANSWERS = {
    "yes": ("y", "yes", "true", "t", "type 1", "type 2", "t1", "t2", "t1dm", "t2dm", "dm", "iddm", "niddm"),
    "no": ("n", "no", "false", "f", "nil", "none"),
    "unknown": ("u", "unknown", "not known", "?"),
}
INDICATIONS = {
    Indication.FOOT_ULCER: ("ulcer", "foot ulcer", "dfu", "diabetic foot ulcer", "heel ulcer", "toe ulcer"),
    Indication.REST_PAIN: ("rest pain", "night pain"),
    Indication.CLAUDICATION: ("claudication", "ic", "intermittent claudication", "pain on walking"),
    Indication.ABSENT_PULSES: ("absent pulses", "no pulses", "pulses not felt", "absent foot pulses"),
    Indication.BEFORE_COMPRESSION: ("compression", "before compression", "leg ulcer", "venous ulcer", "vlu"),
    Indication.BEFORE_FOOT_SURGERY: ("surgery", "before surgery", "pre op", "preop", "before foot surgery"),
    Indication.AFTER_REVASCULARISATION: (
        "post angioplasty", "after angioplasty", "post bypass", "graft surveillance", "post op",
        "after revascularisation", "post revascularisation", "post evar",
    ),
    Indication.SURVEILLANCE: ("surveillance", "follow up", "fu", "review", "routine"),
    Indication.HIGH_RISK_RECALL: ("high risk", "high risk foot", "recall", "annual review", "foot check"),
    Indication.GANGRENE: ("gangrene", "necrosis", "dry gangrene", "wet gangrene"),
    Indication.INFECTION: ("infection", "cellulitis", "osteomyelitis", "infected"),
    Indication.COLD_OR_BLUE_TOE: ("cold foot", "blue toe", "cold toe", "cold feet", "trash foot"),
}  # fmt: skip

# What a row under the headings holds where units have a row of their own.
UNITS_WRITTEN = frozenset(
    {
        "mmhg", "mm hg", "kpa", "c", "deg c", "celsius", "min", "minutes", "cm", "ratio", "index",
        "dd mm yyyy", "dd mm yy", "mm dd yyyy", "yyyy mm dd", "date", "text", "y n", "yes no",
        "m f", "no unit",
    }
)  # fmt: skip

_NOT_A_WORD = re.compile(r"[^a-z0-9?]+")


def key(text: str) -> str:
    """Words as they are compared: without case, accents and punctuation, single spaces between.

    >>> key("  Non-Compressible. ")
    'non compressible'
    """
    folded = unicodedata.normalize("NFKD", text).casefold()
    plain = "".join(sign for sign in folded if not unicodedata.combining(sign))
    return _NOT_A_WORD.sub(" ", plain).strip()


def many(count: int, one: str) -> str:
    """ "1 exam", "2,400 exams"; people are no persons here."""
    several = "people" if one == "person" else f"{one}s"
    return f"{count:,} {one if count == 1 else several}"


def turned(table: Mapping[Any, tuple[str, ...]]) -> dict[str, str]:
    """Written word to what it means; the first meaning listed wins."""
    found: dict[str, str] = {}
    for meaning, words in table.items():
        for word in words:
            found.setdefault(key(word), str(meaning))
    return found


SIDE_OF = turned(SIDES)
SITE_OF = turned(SITES)
REASON_OF = turned(REASONS)
SEX_OF = turned(SEXES)
ANSWER_OF = turned(ANSWERS)
INDICATION_OF = turned(INDICATIONS)
