"""Recordings that were looked at twice: one spoilt, one read by two people, one of a heart out of step."""

from vaslab.demo.story import Fact, Recorded, SecondReader, Story, Visit

FESCUE = Story(
    about="a leaking cuff: the recording refused, and the toe recorded again the same day",
    clinic="Alder House",
    given="Nell",
    family="Fescue",
    born="1956-03-08",
    sex="female",
    number="FM 10988",
    neuropathy="yes",
    telephone="01555 010 988",
    visits=(
        Visit(
            weeks=3,
            arms="136 134 136",
            right="pt 128 dp 132 t1 62 64",
            left="pt 130 dp 134 t1 84 86",
            recorded=(
                Recorded(
                    "right t1 1",
                    seed=0,
                    family="leaking_occlusion",
                    systolic=62,
                    refused="leak",
                    words="the tube had come loose at the cuff",
                ),
                Recorded("right t1 1", seed=2),
                Recorded("right t1 2", seed=7),
            ),
        ),
    ),
)

GALINGALE = Story(
    about="two readers who disagree on a mark",
    clinic="Alder House",
    given="Perpetua",
    family="Galingale",
    born="1952-10-27",
    sex="female",
    number="FM 11003",
    kidney_disease="yes",
    tobacco="stopped",
    telephone="01555 011 003",
    visits=(
        Visit(
            weeks=2,
            arms="142 144 142",
            right="pt 118 dp 122 t1 66 64",
            left="pt 96 dp 104 t1 46 48",
            toes_celsius="30.1 29.2",
            recorded=(
                Recorded(
                    "left t1 1",
                    seed=16,
                    family="cold",
                    severity=0.6,
                    with_caution=True,
                    second=SecondReader(41, "no lasting rise before this"),
                ),
            ),
        ),
    ),
)

COTTONGRASS = Story(
    about="a heart out of step, on the couch today; one toe waits for a reader",
    clinic="Alder House",
    given="Osric",
    family="Cottongrass",
    born="1947-01-16",
    sex="male",
    number="FM 11020",
    tobacco="stopped",
    telephone="01555 011 020",
    facts=(Fact("", "arrhythmia", 1, precision="year", note="atrial fibrillation", source="GP letter"),),
    visits=(
        Visit(
            weeks=0,
            arms="132 136",
            right="pt 112 dp 116 t1 70",
            left="pt 108 dp 114",
            indication="absent_pulses",
            indication_text="pulses not felt; irregular pulse at the wrist, known",
            ends="measuring",
            recorded=(
                Recorded("right t1 1", seed=28, family="irregular_rhythm", with_caution=True),
                Recorded("left t1 1", seed=0, family="irregular_rhythm", systolic=64, waits=True),
            ),
        ),
    ),
)
