"""Who is in the demonstration and what was measured of them, as data. Everyone here is invented.

Readings are written the way they are typed at the sheet: ``118`` a pressure in mmHg, ``*250`` cannot be
occluded at 250, ``/`` no signal, ``-wound_under_cuff`` not obtained and why. Weeks are counted back from the
day the demonstration is made.
"""

from dataclasses import dataclass, field

SERVICE = "Fenmarsh Foot and Circulation Service"
PASSWORD = "fenmarsh-demo-2026"  # printed at every start; the demo refuses to run on an open address

CLINICS = {
    "Alder House": "Alder House, 4 Causeway End, Fenmarsh",
    "Lock Street": "Lock Street Clinic, 19 Lock Street, Fenmarsh",
}


@dataclass(frozen=True)
class Staff:
    email: str
    name: str
    roles: tuple[tuple[str, str | None], ...]  # (role, clinic or None for the whole service)
    does: str


STAFF = (
    Staff("marda.quill@fenmarsh.example", "Marda Quill", (("measurer", "Alder House"),), "measurer"),
    Staff("tamsin.weir@fenmarsh.example", "Tamsin Weir", (("measurer", "Lock Street"),), "measurer"),
    Staff(
        "selby.wren@fenmarsh.example",
        "Dr Selby Wren",
        (("reporter", "Alder House"), ("reporter", "Lock Street")),
        "reporter",
    ),
    Staff("ivo.marsh@fenmarsh.example", "Ivo Marsh", (("wound_team", "Alder House"),), "wound team"),
    Staff(
        "petra.lode@fenmarsh.example",
        "Petra Lode",
        (("administrator", "Alder House"), ("administrator", "Lock Street")),
        "clinic administrator",
    ),
    Staff("wyn.sedgeley@fenmarsh.example", "Wyn Sedgeley", (("educator", "Alder House"),), "educator"),
    Staff(
        "sam.hythe@fenmarsh.example", "Sam Hythe", (("system_administrator", None),), "system administrator"
    ),
)


@dataclass(frozen=True)
class ToldTo:
    """How a critical result was handed over, minutes after it was raised."""

    name: str
    role: str
    number: str
    minutes: int
    read_back: str
    agreed: str


@dataclass(frozen=True)
class Visit:
    """One exam. ``arms`` is first arm, other arm, first arm again; a dash means nothing was planned there."""

    weeks: int
    arms: str = ""
    right: str = ""
    left: str = ""
    toes_celsius: str = "30.5 30.5"
    exam_type: str = "ankle_and_toe"
    indication: str = "high_risk_recall"
    indication_text: str = ""
    rest_minutes: int = 11
    position: str = "supine"
    technique: str = "two_cuffs"
    told: ToldTo | None = None
    # Where the story stands: "report" (the PDF is made), "measured", "measuring", "resting", "booked",
    # "not_attended", "stopped".
    ends: str = "report"
    why: str = ""
    answers: str = ""  # the answer given where the sheet asks "repeat?"


@dataclass(frozen=True)
class Fact:
    side: str
    kind: str
    weeks: int
    until: int | None = None
    toe: int | None = None
    note: str = ""


@dataclass(frozen=True)
class CautionTold:
    side: str
    region: str
    kind: str
    do_not_inflate: bool
    weeks: int
    note: str = ""


@dataclass(frozen=True)
class Story:
    clinic: str
    given: str
    family: str
    born: str
    sex: str
    number: str
    diabetes: str = "yes"
    kidney_disease: str = "no"
    neuropathy: str = "unknown"
    tobacco: str = "never"
    telephone: str = ""
    referrer: str = "Sedge Lane Surgery"
    facts: tuple[Fact, ...] = ()
    cautions: tuple[CautionTold, ...] = ()
    visits: tuple[Visit, ...] = ()
    about: str = field(default="")


ON_CALL = "Dr Rowan Staithe"

STORIES = (
    Story(
        about="calcified ankles: the toe tells the truth; pressure recovers after the artery was opened",
        clinic="Alder House",
        given="Agnes",
        family="Dunnock",
        born="1948-02-11",
        sex="female",
        number="FM 10482",
        neuropathy="yes",
        tobacco="stopped",
        telephone="01555 010 482",
        facts=(Fact("left", "open_wound", 92, 60, note="ulcer under the first metatarsal head"),),
        visits=(
            Visit(
                weeks=410, arms="146 142 144", right="pt 188 dp 196 t1 92 90", left="pt 192 dp 186 t1 84 86"
            ),
            Visit(
                weeks=306, arms="148 144 146", right="pt 224 dp 230 t1 81 83", left="pt *250 dp *250 t1 66 64"
            ),
            Visit(
                weeks=204,
                arms="150 146 148",
                right="pt *250 dp *250 t1 74 72",
                left="pt *250 dp *250 t1 52 50",
            ),
            Visit(
                weeks=91,
                arms="152 146 150",
                right="pt *250 dp *250 t1 68 70",
                left="pt *250 dp *250 t1 33 31",
                indication="foot_ulcer",
                indication_text="LEFT plantar ulcer, three weeks",
                toes_celsius="30.2 29.1",
            ),
            Visit(
                weeks=84,
                arms="150 146 148",
                right="pt *250 dp *250 t1 70 68",
                left="pt *250 dp *250 t1 58 56",
                indication="after_revascularisation",
                indication_text="LEFT angioplasty below the knee, six weeks ago",
            ),
            Visit(
                weeks=58,
                arms="148 144 146",
                right="pt *250 dp *250 t1 69 71",
                left="pt *250 dp *250 t1 62 60",
                indication="surveillance",
                indication_text="LEFT ulcer healed",
            ),
            Visit(
                weeks=8,
                arms="146 142 146",
                right="pt *250 dp *250 t1 66 68",
                left="pt *250 dp *250 t1 57 59",
                indication="surveillance",
            ),
        ),
    ),
    Story(
        about="slow decline to rest pain, handed over by telephone",
        clinic="Alder House",
        given="Bram",
        family="Osier",
        born="1951-09-30",
        sex="male",
        number="FM 10517",
        tobacco="current",
        telephone="01555 010 517",
        referrer="Withy Road Surgery",
        facts=(Fact("right", "rest_pain", 6, note="wakes at night, hangs the foot out of bed"),),
        visits=(
            Visit(
                weeks=398,
                arms="138 140 138",
                right="pt 122 dp 126 t1 88 86",
                left="pt 138 dp 142 t1 98 100",
                indication="claudication",
            ),
            Visit(
                weeks=292,
                arms="140 142 142",
                right="pt 108 dp 112 t1 72 74",
                left="pt 134 dp 138 t1 94 92",
                indication="surveillance",
            ),
            Visit(
                weeks=188,
                arms="144 142 144",
                right="pt 92 dp 98 t1 58 60",
                left="pt 130 dp 132 t1 88 90",
                indication="surveillance",
            ),
            Visit(
                weeks=96,
                arms="142 144 142",
                right="pt 74 dp 78 t1 42 44",
                left="pt 124 dp 128 t1 82 84",
                indication="surveillance",
            ),
            Visit(
                weeks=5,
                arms="146 144 148",
                right="pt 46 dp 50 t1 24 26",
                left="pt 118 dp 122 t1 76 78",
                indication="rest_pain",
                indication_text="RIGHT foot, night pain for a week",
                told=ToldTo(
                    ON_CALL,
                    "vascular surgeon on call",
                    "01555 010 900",
                    9,
                    "RIGHT toe 25, ankle 50, rest pain, known decline",
                    "Seen today at the hospital; transport arranged from the clinic",
                ),
            ),
        ),
    ),
    Story(
        about="normal feet, yearly recall",
        clinic="Alder House",
        given="Cicely",
        family="Teasel",
        born="1966-05-19",
        sex="female",
        number="FM 10603",
        telephone="01555 010 603",
        visits=tuple(
            Visit(weeks=weeks, arms=arms, right=right, left=left, indication="surveillance")
            for weeks, arms, right, left in (
                (404, "124 122 126", "pt 134 dp 138 t1 98 100", "pt 132 dp 136 t1 102 100"),
                (352, "126 124 124", "pt 138 dp 136 t1 104 102", "pt 136 dp 140 t1 100 98"),
                (300, "122 124 122", "pt 132 dp 134 t1 96 98", "pt 134 dp 132 t1 99 101"),
                (248, "128 126 126", "pt 140 dp 138 t1 101 103", "pt 138 dp 142 t1 104 102"),
                (196, "124 126 124", "pt 136 dp 134 t1 97 99", "pt 132 dp 138 t1 98 100"),
                (144, "126 122 126", "pt 134 dp 138 t1 100 102", "pt 136 dp 134 t1 96 98"),
                (92, "130 126 128", "pt 142 dp 140 t1 103 101", "pt 140 dp 138 t1 102 104"),
                (40, "128 126 128", "pt 138 dp 142 t1 99 101", "pt 138 dp 140 t1 100 98"),
            )
        ),
    ),
    Story(
        about="hallux amputated: second toe from then on",
        clinic="Alder House",
        given="Dorian",
        family="Sallow",
        born="1957-12-03",
        sex="male",
        number="FM 10655",
        neuropathy="yes",
        tobacco="stopped",
        telephone="01555 010 655",
        facts=(
            Fact("right", "open_wound", 170, 150, note="hallux ulcer with bone infection"),
            Fact("right", "toe_absent", 158, toe=1, note="hallux amputated at the joint"),
        ),
        visits=(
            Visit(
                weeks=360, arms="134 136 134", right="pt 140 dp 144 t1 78 80", left="pt 142 dp 138 t1 84 86"
            ),
            Visit(
                weeks=262, arms="136 134 138", right="pt 144 dp 148 t1 64 66", left="pt 140 dp 142 t1 80 82"
            ),
            Visit(
                weeks=168,
                arms="138 136 136",
                right="pt 146 dp 150 t1 46 44",
                left="pt 142 dp 140 t1 78 76",
                indication="foot_ulcer",
                indication_text="RIGHT hallux ulcer",
            ),
            Visit(
                weeks=146,
                arms="136 138 136",
                right="pt 148 dp 146 t2 52 54",
                left="pt 144 dp 140 t1 77 79",
                indication="surveillance",
                indication_text="RIGHT hallux amputated; wound closed",
            ),
            Visit(
                weeks=74, arms="140 136 138", right="pt 150 dp 152 t2 50 48", left="pt 146 dp 142 t1 74 76"
            ),
            Visit(
                weeks=20, arms="138 138 140", right="pt 152 dp 154 t2 49 51", left="pt 144 dp 148 t1 73 75"
            ),
        ),
    ),
    Story(
        about="short toes: one cuff, the pulp pressed empty by hand",
        clinic="Alder House",
        given="Edith",
        family="Bulrush",
        born="1961-08-08",
        sex="female",
        number="FM 10702",
        neuropathy="yes",
        telephone="01555 010 702",
        visits=(
            Visit(
                weeks=330, arms="132 130 134", right="pt 128 dp 132 t1 86 84", left="pt 130 dp 126 t1 80 82"
            ),
            Visit(
                weeks=220,
                arms="134 132 132",
                right="pt 126 dp 130 t1 84 82",
                left="pt 128 dp 124 t1 79 77",
                technique="one_cuff_hand",
            ),
            Visit(
                weeks=110,
                arms="136 132 134",
                right="pt 124 dp 128 t1 78 80",
                left="pt 126 dp 122 t1 74 76",
                technique="one_cuff_hand",
            ),
            Visit(
                weeks=12,
                arms="134 134 136",
                right="pt 120 dp 124 t1 75 77",
                left="pt 122 dp 120 t1 70 72",
                technique="one_cuff_hand",
            ),
        ),
    ),
    Story(
        about="dialysis fistula: the left arm may not be used",
        clinic="Alder House",
        given="Fergus",
        family="Eelby",
        born="1953-01-25",
        sex="male",
        number="FM 10744",
        kidney_disease="yes",
        neuropathy="yes",
        tobacco="stopped",
        telephone="01555 010 744",
        referrer="Renal unit, Fenmarsh",
        cautions=(CautionTold("left", "arm", "fistula", True, 214, "fistula at the elbow, in use"),),
        visits=(
            Visit(
                weeks=300, arms="150 152 150", right="pt 168 dp 172 t1 74 76", left="pt 170 dp 166 t1 70 68"
            ),
            Visit(
                weeks=190,
                arms="156 -arm_protected 154",
                right="pt 204 dp 210 t1 62 60",
                left="pt 198 dp 206 t1 58 56",
                indication="surveillance",
            ),
            Visit(
                weeks=98,
                arms="158 -arm_protected 160",
                right="pt *250 dp 232 t1 54 52",
                left="pt *250 dp *250 t1 46 48",
                indication="surveillance",
            ),
            Visit(
                weeks=15,
                arms="154 -arm_protected 156",
                right="pt *250 dp *250 t1 48 50",
                left="pt *250 dp *250 t1 41 43",
                indication="surveillance",
            ),
        ),
    ),
    Story(
        about="cold toes: measured again after blankets",
        clinic="Alder House",
        given="Greta",
        family="Loosestrife",
        born="1945-11-14",
        sex="female",
        number="FM 10781",
        diabetes="no",
        tobacco="current",
        telephone="01555 010 781",
        visits=(
            Visit(
                weeks=150,
                arms="128 132 130",
                right="pt 110 dp 116 t1 62 64",
                left="pt 108 dp 112 t1 60 58",
                indication="cold_or_blue_toe",
                toes_celsius="30.1 30.4",
            ),
            Visit(
                weeks=30,
                arms="130 132 130",
                right="pt 106 dp 112 t1 56 54",
                left="pt 104 dp 110 t1 34 36",
                indication="cold_or_blue_toe",
                toes_celsius="26.5 25.8",
                answers="room warmed and blankets for 15 minutes; still cold",
            ),
            Visit(
                weeks=29,
                arms="128 130 130",
                right="pt 108 dp 112 t1 60 62",
                left="pt 106 dp 108 t1 50 48",
                indication="cold_or_blue_toe",
                toes_celsius="31.0 30.6",
            ),
        ),
    ),
    Story(
        about="arms more than 20 apart",
        clinic="Alder House",
        given="Hamish",
        family="Reedmace",
        born="1970-04-02",
        sex="male",
        number="FM 10820",
        diabetes="no",
        tobacco="current",
        telephone="01555 010 820",
        referrer="Withy Road Surgery",
        visits=(
            Visit(
                weeks=62,
                arms="148 122 146",
                right="pt 138 dp 142 t1 96 98",
                left="pt 132 dp 136 t1 92 94",
                indication="claudication",
                answers="repeated by hand, same",
            ),
            Visit(
                weeks=9,
                arms="150 126 150",
                right="pt 134 dp 138 t1 93 91",
                left="pt 130 dp 134 t1 90 92",
                indication="claudication",
                answers="known difference, surgeon informed",
            ),
        ),
    ),
    Story(
        about="one ankle artery stiff, the other low, new ulcer: the slip of today is still open",
        clinic="Alder House",
        given="Ines",
        family="Watermint",
        born="1959-07-21",
        sex="female",
        number="FM 10866",
        kidney_disease="unknown",
        neuropathy="yes",
        telephone="01555 010 866",
        facts=(Fact("left", "open_wound", 1, note="heel ulcer, black edge"),),
        visits=(
            Visit(
                weeks=120, arms="140 142 140", right="pt 150 dp 146 t1 80 82", left="pt 128 dp 134 t1 62 60"
            ),
            Visit(
                weeks=0,
                arms="144 142 146",
                right="pt 148 dp 144 t1 72 74",
                left="pt *250 dp 62 t1 27 28",
                indication="foot_ulcer",
                indication_text="LEFT heel ulcer, nine days",
                toes_celsius="30.8 30.3",
                ends="measured",
            ),
        ),
    ),
    Story(
        about="no signal where there was one: an emergency",
        clinic="Lock Street",
        given="Jory",
        family="Kingcup",
        born="1963-03-17",
        sex="male",
        number="LS 2041",
        tobacco="current",
        telephone="01555 020 041",
        visits=(
            Visit(
                weeks=140,
                arms="136 134 136",
                right="pt 118 dp 122 t1 76 74",
                left="pt 112 dp 116 t1 70 72",
                indication="claudication",
            ),
            Visit(
                weeks=18,
                arms="138 136 140",
                right="pt 114 dp 120 t1 72 70",
                left="pt / dp / t1 /",
                indication="cold_or_blue_toe",
                indication_text="LEFT foot cold and numb since this morning",
                toes_celsius="30.2 24.0",
                answers="foot cold and pale; not delayed by warming",
                told=ToldTo(
                    ON_CALL,
                    "vascular surgeon on call",
                    "01555 010 900",
                    3,
                    "LEFT foot, no signal at ankle or toe, cold since this morning",
                    "Ambulance called; straight to the hospital",
                ),
            ),
        ),
    ),
    Story(
        about="toes only, before compression",
        clinic="Lock Street",
        given="Keziah",
        family="Millrace",
        born="1955-10-09",
        sex="female",
        number="LS 2077",
        diabetes="no",
        telephone="01555 020 077",
        cautions=(CautionTold("right", "ankle", "pain", False, 52, "calf tender above the ulcer"),),
        facts=(Fact("right", "open_wound", 50, 22, note="venous ulcer above the ankle"),),
        visits=(
            Visit(
                weeks=48,
                arms="130 128 132",
                right="t1 82 84",
                left="t1 88 86",
                exam_type="toe_only",
                indication="before_compression",
            ),
            Visit(
                weeks=24,
                arms="128 130 130",
                right="t1 84 82",
                left="t1 86 88",
                exam_type="toe_only",
                indication="before_compression",
            ),
            Visit(weeks=0, exam_type="toe_only", indication="surveillance", ends="booked"),
        ),
    ),
    Story(
        about="appointments missed, a dressing left on, an exam stopped",
        clinic="Alder House",
        given="Lowell",
        family="Sluice",
        born="1949-06-06",
        sex="male",
        number="FM 10913",
        neuropathy="yes",
        tobacco="stopped",
        telephone="01555 010 913",
        visits=(
            Visit(
                weeks=80,
                arms="142 140 142",
                right="pt 120 dp 118 t1 66 68",
                left="pt 114 dp -dressing_not_removed t1 -dressing_not_removed",
                indication="foot_ulcer",
                indication_text="LEFT dorsal wound, dressing to stay",
            ),
            Visit(weeks=44, ends="not_attended", why="did not come; telephoned, new date sent"),
            Visit(
                weeks=40,
                arms="144 142",
                indication="surveillance",
                ends="stopped",
                why="felt faint lying flat; sat up and recovered",
            ),
            Visit(weeks=0, indication="surveillance", ends="booked"),
        ),
    ),
    Story(
        about="a name like another's: the warning before a second record",
        clinic="Alder House",
        given="Mabel",
        family="Osier",
        born="1951-09-03",
        sex="female",
        number="FM 10950",
        diabetes="unknown",
        telephone="01555 010 950",
        referrer="Withy Road Surgery",
        visits=(
            Visit(
                weeks=34,
                arms="126 128 126",
                right="pt 124 dp 128 t1 -time",
                left="pt 120 dp 122 t1 -time",
                indication="absent_pulses",
                indication_text="pulses not felt at the foot check",
            ),
            Visit(weeks=0, indication="absent_pulses", ends="resting"),
        ),
    ),
)
