"""Arms and legs on which a cuff may not go, or not yet."""

from vaslab.demo.story import CautionTold, Fact, Looked, Story, Visit, WoundTold

EELBY = Story(
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
    facts=(Fact("", "dialysis", 206, source="renal unit's letter"),),
    cautions=(CautionTold("left", "arm", "fistula", True, 214, "fistula at the elbow, in use"),),
    visits=(
        Visit(weeks=300, arms="150 152 150", right="pt 168 dp 172 t1 74 76", left="pt 170 dp 166 t1 70 68"),
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
)

MILLRACE = Story(
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
    wounds=(
        WoundTold(
            "right",
            "leg_low",
            50,
            cause="venous",
            looked=(
                Looked(50, "45x30", more=(("feeling_lost", "no"), ("offloading", "not_needed"))),
                Looked(46, "36x24", more=(("feeling_lost", "no"), ("offloading", "not_needed"))),
                Looked(34, "18x10", more=(("feeling_lost", "no"), ("offloading", "not_needed"))),
            ),
            until=22,
        ),
    ),
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
)
