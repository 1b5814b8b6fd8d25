"""Toes that need another way of measuring, or another toe."""

from vaslab.demo.story import Fact, Recorded, Story, Visit

SALLOW = Story(
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
        Fact("right", "amputation", 158, level="toe", toe=1, note="hallux amputated at the joint"),
    ),
    visits=(
        Visit(weeks=360, arms="134 136 134", right="pt 140 dp 144 t1 78 80", left="pt 142 dp 138 t1 84 86"),
        Visit(weeks=262, arms="136 134 138", right="pt 144 dp 148 t1 64 66", left="pt 140 dp 142 t1 80 82"),
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
        Visit(weeks=74, arms="140 136 138", right="pt 150 dp 152 t2 50 48", left="pt 146 dp 142 t1 74 76"),
        Visit(weeks=20, arms="138 138 140", right="pt 152 dp 154 t2 49 51", left="pt 144 dp 148 t1 73 75"),
    ),
)

BULRUSH = Story(
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
        Visit(weeks=330, arms="132 130 134", right="pt 128 dp 132 t1 86 84", left="pt 130 dp 126 t1 80 82"),
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
            recorded=(
                Recorded("right t1 1", seed=11, family="one_cuff", severity=0.3),
                Recorded("left t1 1", seed=47, family="one_cuff", severity=0.3),
            ),
        ),
    ),
)

LOOSESTRIFE = Story(
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
)
