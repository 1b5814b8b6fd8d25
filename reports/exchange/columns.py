"""What a column may hold, and what its heading suggests. Pure."""

import re
from dataclasses import asdict, dataclass, field, replace
from typing import Any

from exams.visits.models import Site
from exams.visits.wording import SIDE_WORDS, SITE_NAMES
from reports.exchange.words import SIDES, SITES, key

# The person and the visit.
PERSON = {
    "identifier": "Person: identifier",
    "identifier_2": "Person: identifier, second part",
    "family_name": "Person: family name",
    "given_name": "Person: given name",
    "birth_date": "Person: birth date",
    "sex": "Person: sex",
    "diabetes": "Person: diabetes (yes, no)",
    "kidney_disease": "Person: kidney disease (yes, no)",
}
VISIT = {
    "exam_date": "Exam: date",
    "indication": "Exam: why it was done",
    "first_arm": "Exam: arm measured first",
    "rest_minutes": "Exam: rest before, minutes",
    "right_toe_celsius": "RIGHT toe skin, °C",
    "left_toe_celsius": "LEFT toe skin, °C",
    "comment": "Exam: comment",
}
# One reading a row: such a table names side and site in cells, not in headings.
LONG = {
    "side": "One reading a row: side",
    "site": "One reading a row: site",
    "reading": "One reading a row: pressure",
    "reason": "One reading a row: why there is none",
}
ATTEMPTS = (1, 2, 3)
_AGAIN = {1: "", 2: ", second reading", 3: ", third reading"}
PLACES = {
    f"{side}.{site}.{attempt}": f"{SIDE_WORDS[side]} {SITE_NAMES[site]}{_AGAIN[attempt]}"
    for site in Site.values
    for side in SIDE_WORDS
    for attempt in ATTEMPTS
}
# The one arm that was used, its side in a column of its own.
USED_ARM = {f"used.arm.{attempt}": f"arm that was used{_AGAIN[attempt]}" for attempt in ATTEMPTS}
ARM_SIDE = {"arm_side": "Which arm was used"}
REPORTED = {
    f"{side}.{index}": f"{SIDE_WORDS[side]} {words} as it stands in the table"
    for index, words in (("abi", "ankle-brachial index"), ("tbi", "toe-brachial index"))
    for side in SIDE_WORDS
}
FIELDS: dict[str, str] = {**PERSON, **VISIT, **PLACES, **ARM_SIDE, **USED_ARM, **REPORTED, **LONG}
GROUPS = (
    ("The person", (*PERSON,)),
    ("The exam", (*VISIT,)),
    ("Pressures, mmHg or kPa", (*PLACES, *ARM_SIDE, *USED_ARM)),
    ("Index as reported", (*REPORTED,)),
    ("One reading a row", (*LONG,)),
)
PRESSURE_FIELDS = frozenset({*PLACES, *USED_ARM, "reading"})

DATE_ORDERS = {"dmy": "day first (25/11/2019)", "mdy": "month first (11/25/2019)"}
UNITS = {"mmhg": "mmHg", "kpa": "kPa"}

_NAMED = {
    "identifier": (
        "id", "identifier", "patient id", "patient no", "patient number", "hospital number", "hospital no",
        "hosp no", "hosp number", "mrn", "nhs number", "nhs no", "record number", "study id", "subject",
        "subject id", "pid", "unit number", "unit no",
    ),
    "family_name": ("surname", "family name", "last name", "lastname", "name family"),
    "given_name": ("forename", "first name", "firstname", "given name", "forenames", "christian name"),
    "birth_date": ("dob", "date of birth", "birth date", "birthdate", "born", "d o b"),
    "sex": ("sex", "gender"),
    "diabetes": ("diabetes", "diabetic", "dm"),
    "kidney_disease": ("kidney disease", "ckd", "renal disease", "renal", "kidneys"),
    "exam_date": (
        "date", "exam date", "date of exam", "test date", "date of test", "scan date", "visit date",
        "date measured",        "date of study", "study date", "measured on",
    ),
    "indication": ("indication", "reason for test", "reason for referral", "clinical details", "why"),
    "first_arm": ("first arm", "arm first"),
    "rest_minutes": ("rest", "rest minutes", "rest min", "minutes rest"),
    "right_toe_celsius": ("right toe temperature", "right toe temp", "right toe skin celsius", "r toe temp"),
    "left_toe_celsius": ("left toe temperature", "left toe temp", "left toe skin celsius", "l toe temp"),
    "comment": ("comment", "comments", "notes", "remark", "remarks"),
    "side": ("side", "laterality", "limb side"),
    "site": ("site", "artery", "vessel", "location"),
    "reading": ("pressure", "reading", "value", "pressure mmhg", "result"),
    "reason": ("reason", "reason not obtained", "why not"),
    "arm_side": ("arm used", "which arm", "arm side"),
}  # fmt: skip
_BY_NAME = {key(word): name for name, words in _NAMED.items() for word in words}
_SIDE_WORDS = {key(word): side for side, words in SIDES.items() for word in words}
_SITE_WORDS = sorted(
    ((key(word), site) for site, words in SITES.items() for word in words), key=lambda one: -len(one[0])
)
_INDEX_WORDS = {
    "abi": ("abi", "abpi", "ankle brachial index", "ankle brachial pressure index", "aai"),
    "tbi": ("tbi", "tbpi", "toe brachial index", "toe brachial pressure index"),
}
# "RDP", "LPTA", "RABI": side and site run together; written so by many programs of ours.
_RUN_TOGETHER = {
    f"{side[0]}{word}": (side, what)
    for side in SIDE_WORDS
    for what, words in {
        **{str(site): words for site, words in SITES.items()},
        **_INDEX_WORDS,
    }.items()
    for word in words
    if word.isalpha() and len(word) > 1
}
_REPEATS = {
    "2": 2, "2nd": 2, "second": 2, "repeat": 2, "rpt": 2, "again": 2, "b": 2, "ii": 2, "3": 3,
    "3rd": 3, "third": 3,    "c": 3, "iii": 3, "1": 1, "1st": 1, "first": 1, "a": 1, "i": 1,
}  # fmt: skip
# The second toe, or the toe a second time? Asked, not guessed.
_TOE_OR_READING = re.compile(r"\b(toe|digit) [2-5]$")
_NOISE = frozenset(
    [
        "mmhg",
        "kpa",
        "mm",
        "hg",
        "pressure",
        "systolic",
        "sbp",
        "sys",
        "bp",
        "artery",
        "reading",
        "the",
        "of",
        "in",
        "at",
        "psv",
    ]
)


@dataclass(frozen=True)
class Options:
    """What is said of a table as a whole. Empty where it was not asked.

    ``subjects``: the table holds no names, and each identifier is a subject of its own; ``subject_born`` is
    then written as the birth date of all of them. ``words``: lines ``heading: written = meant``.
    """

    issuer: str = ""
    date_order: str = ""
    # Not said but seen: a date that can be read both ways is named then.
    dates_mixed: bool = False
    unit: str = ""
    arm_technique: str = ""
    ankle_technique: str = ""
    toe_technique: str = ""
    exam_date: str = ""
    subjects: bool = False
    subject_born: str = ""
    index_rule: str = ""
    words: str = ""

    def to_json(self) -> dict[str, Any]:
        return asdict(self)

    @classmethod
    def from_json(cls, said: dict[str, Any]) -> "Options":
        return cls(**{name: said[name] for name in cls.__dataclass_fields__ if name in said})


@dataclass(frozen=True)
class Mapping:
    """Which column is which: the headings of the file, a field or "" for each, and what holds for all."""

    headings: tuple[str, ...]
    fields: tuple[str, ...]
    options: Options = field(default_factory=Options)

    def to_json(self) -> dict[str, Any]:
        return {"headings": self.headings, "fields": self.fields, "options": self.options.to_json()}

    @classmethod
    def from_json(cls, said: dict[str, Any]) -> "Mapping":
        return cls(tuple(said["headings"]), tuple(said["fields"]), Options.from_json(said["options"]))

    def place(self, name: str) -> int | None:
        """Where a field stands, counted from 0; None if no column holds it."""
        return self.fields.index(name) if name in self.fields else None

    @property
    def is_long(self) -> bool:
        return "reading" in self.fields

    @property
    def kinds(self) -> frozenset[str]:
        """ "arm", "ankle", "toe": what is measured in this table; all of them where cells name the site."""
        if self.is_long:
            return frozenset({"arm", "ankle", "toe"})
        found = set()
        for name in self.fields:
            if name in PRESSURE_FIELDS:
                site = name.split(".")[1]
                found.add("arm" if site == "arm" else "toe" if site.startswith("toe") else "ankle")
        return frozenset(found)

    def with_template(self, template: dict[str, str], options: Options) -> "Mapping":
        """The same headings read by a saved template: by name, whatever their order."""
        by_key = {key(heading): name for heading, name in template.items()}
        taken = tuple(by_key.get(key(heading), "") for heading in self.headings)
        return replace(self, fields=taken, options=options)

    def as_template(self) -> dict[str, str]:
        return {heading: name for heading, name in zip(self.headings, self.fields, strict=True) if name}


def suggested(headings: list[str]) -> tuple[str, ...]:
    """The field that each heading seems to name, "" where none does; no field twice."""
    found: list[str] = []
    for heading in headings:
        name = field_of(heading)
        if name in found and name in PLACES:
            # "R DP" twice: the second one is the second reading.
            place, attempt = name.rsplit(".", 1)
            later = (f"{place}.{more}" for more in ATTEMPTS if more > int(attempt))
            name = next((one for one in later if one not in found), "")
        found.append("" if name in found else name)
    return tuple(found)


def field_of(heading: str) -> str:
    """The field a heading names, or "".

    >>> field_of("Rt DP (mmHg)"), field_of("LABI"), field_of("Hosp. No.")
    ('right.dorsalis_pedis.1', 'left.abi', 'identifier')
    """
    plain = key(heading)
    if plain in _BY_NAME:
        return _BY_NAME[plain]
    words = [word for word in plain.split() if word not in _NOISE]
    if _TOE_OR_READING.search(" ".join(words)):
        return ""
    attempt = 1
    if len(words) > 1 and words[-1] in _REPEATS:
        attempt = _REPEATS[words.pop()]
    if len(words) == 1 and words[0] in _RUN_TOGETHER:
        side, what = _RUN_TOGETHER[words[0]]
        return _place(side, what, attempt)
    sides = {_SIDE_WORDS[word] for word in words if word in _SIDE_WORDS}
    rest = " ".join(word for word in words if word not in _SIDE_WORDS)
    if len(sides) != 1:
        return ""
    side = sides.pop()
    for index, names in _INDEX_WORDS.items():
        if rest in names:
            return f"{side}.{index}"
    site = _is_site(rest)
    return _place(side, site, attempt) if site else ""


def unit_in(heading: str) -> str:
    """The unit a heading names, or ""."""
    words = set(re.split(r"[^a-z%]+", heading.casefold()))
    if "kpa" in words:
        return "kpa"
    return "mmhg" if "mmhg" in words or {"mm", "hg"} <= words else ""


def _is_site(words: str) -> str:
    for written, site in _SITE_WORDS:
        if words == written:
            return str(site)
    return ""


def _place(side: str, what: str, attempt: int) -> str:
    return f"{side}.{what}" if what in _INDEX_WORDS else f"{side}.{what}.{attempt}"
