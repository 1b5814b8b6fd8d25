"""The foot map: a sole and a top of each foot, drawn by ourselves, every place a field to tap. Pure.

Schematic on purpose: the toes are as wide as a gloved finger needs on a telephone. Drawn once with the hallux
on the left, as the top of a RIGHT foot is seen, and mirrored for the others.
"""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

from exams.wounds.places import PLACE_OF, SOLE, TOP

WIDTH, HEIGHT = 240, 330
_VIEW_WORDS = {SOLE: "sole", TOP: "top, ankle and back of the heel"}
# x, y, width, height, rounding: the hallux on the left.
_TOES = (
    (20, 12, 52, 70, 24),
    (76, 20, 36, 62, 18),
    (116, 30, 34, 58, 17),
    (154, 42, 32, 54, 16),
    (190, 56, 32, 50, 16),
)
_HEADS = (
    (20, 88, 52, 52, 14),
    (76, 88, 36, 54, 14),
    (116, 94, 34, 50, 14),
    (154, 102, 32, 44, 14),
    (190, 112, 32, 40, 14),
)
_FIELDS = {
    SOLE: {
        **{f"toe_{toe}_sole": _TOES[toe - 1] for toe in range(1, 6)},
        **{f"head_{toe}": _HEADS[toe - 1] for toe in range(1, 6)},
        "arch_inner": (26, 158, 94, 74, 20),
        "arch_outer": (124, 158, 94, 74, 20),
        "heel_under": (56, 238, 132, 84, 42),
    },
    TOP: {
        **{f"toe_{toe}_top": _TOES[toe - 1] for toe in range(1, 6)},
        "fore_top": (20, 112, 202, 50, 18),
        "mid_top": (26, 166, 190, 48, 18),
        "ankle_inner": (10, 220, 70, 52, 18),
        "leg_low": (85, 220, 70, 52, 10),
        "ankle_outer": (160, 220, 70, 52, 18),
        "heel_back": (56, 278, 128, 46, 22),
    },
}
# Said on the field itself, where its place on the drawing does not say it.
_LABELS = {
    "ankle_inner": "inner ankle",
    "ankle_outer": "outer ankle",
    "leg_low": "lower leg",
    "heel_back": "back of the heel",
    "heel_under": "heel",
    "fore_top": "forefoot",
    "mid_top": "midfoot",
    "arch_inner": "inner side",
    "arch_outer": "outer side",
}


@dataclass(frozen=True)
class Field:
    """One place to tap. ``numbers`` are the wounds there; ``lost`` says what took it, "" for nothing."""

    code: str
    words: str
    label: str
    x: int
    y: int
    width: int
    height: int
    round: int
    numbers: str
    lost: str
    chosen: bool

    @property
    def middle(self) -> tuple[int, int]:
        return (self.x + self.width // 2, self.y + self.height // 2)

    @property
    def word_y(self) -> int:
        """The foot of a word in the middle of the field."""
        return self.middle[1] + 5


@dataclass(frozen=True)
class View:
    """One picture: the sole or the top of one foot."""

    key: str
    title: str
    fields: tuple[Field, ...]
    width: int = WIDTH
    height: int = HEIGHT


def foot_views(
    side: str,
    word: str,
    *,
    wounds: Mapping[str, Sequence[int]],
    lost: Mapping[str, str],
    chosen: Collection[str] = (),
) -> tuple[View, ...]:
    """The two pictures of one foot.

    Parameters
    ----------
    wounds : place to the numbers of the wounds drawn there
    lost : place to the words of the amputation that took it
    chosen : places drawn as chosen
    """
    return tuple(
        View(
            f"{side}-{view}",
            f"{word} {_VIEW_WORDS[view]}",
            tuple(
                _field(code, box, side, view, wounds.get(code, ()), lost.get(code, ""), code in chosen)
                for code, box in _FIELDS[view].items()
            ),
        )
        for view in (SOLE, TOP)
    )


def _field(
    code: str,
    box: tuple[int, int, int, int, int],
    side: str,
    view: str,
    numbers: Sequence[int],
    lost: str,
    chosen: bool,
) -> Field:
    x, y, width, height, rounding = box
    # A sole shows its hallux on the other side than the top of the same foot.
    if (side == "right") == (view == SOLE):
        x = WIDTH - x - width
    label = _LABELS.get(code, "")
    said = ", ".join(str(number) for number in numbers)
    return Field(code, PLACE_OF[code].words, label, x, y, width, height, rounding, said, lost, chosen)
