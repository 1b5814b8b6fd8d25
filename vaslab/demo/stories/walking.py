"""A leg that looks well at rest."""

from vaslab.demo.story import Exercised, Story, Visit

TURNSTONE = Story(
    about="ankle pressure normal at rest, falls after exercise",
    clinic="Lock Street",
    given="Walter",
    family="Turnstone",
    born="1958-04-23",
    sex="male",
    number="LS 2103",
    diabetes="no",
    tobacco="stopped",
    telephone="01555 020 103",
    visits=(
        Visit(
            weeks=158,
            arms="130 126 132",
            right="pt 128 dp 132 t1 88 90",
            left="pt 134 dp 138 t1 96 94",
            indication="claudication",
            indication_text="RIGHT calf, after 200 m",
        ),
        Visit(
            weeks=157,
            arms="130 126 130",
            right="pt 126 dp 132 t1 86 88",
            left="pt 134 dp 136 t1 94 96",
            indication="claudication",
            indication_text="RIGHT calf, after 200 m; exercise test",
            exercise=Exercised(
                after=("1 146 74 148", "3 140 96 142", "5 134 118 138", "10 130 130 136"),
                walked="4:20",
                symptom="RIGHT calf pain",
                symptom_at="2:30",
                completed="no",
            ),
        ),
        Visit(
            weeks=11,
            arms="128 126 130",
            right="pt 124 dp 128 t1 85 87",
            left="pt 132 dp 134 t1 95 93",
            indication="surveillance",
            indication_text="a year of supervised walking",
            exercise=Exercised(
                after=("1 144 92 146", "3 138 116 140", "5 132 128 136"), walked="5", symptom="none"
            ),
        ),
    ),
)
