"""The scale of clinical outcome after treatment."""

from __future__ import annotations

from exams.hemodynamics.findings import NotStated


def outcome_scale(
    change_hundredths: int | None,
    *,
    categories_up: int = 0,
    index_after_hundredths: int | None = None,
    symptom_free: bool = False,
    minor_amputation: bool = False,
    major_amputation: bool = False,
) -> int | NotStated:
    """The scale of clinical outcome from -3 (markedly worse) to +3 (markedly better).

    Parameters
    ----------
    change_hundredths : int or None
        Change of the ankle-brachial index; None where it cannot be measured, and the scale is then not valid.
    categories_up : int
        Clinical categories gained, negative for lost.
    index_after_hundredths : int, optional
    symptom_free : bool

    Notes
    -----
    Source: RUTH97 as reprinted (clinical reference 7, confirmed in a secondary source).
    """
    if major_amputation or categories_up <= -2:
        return -3
    if change_hundredths is None:
        return NotStated("the ankle-brachial index could not be measured; use a toe-based index")
    rose, fell = change_hundredths > 10, change_hundredths < -10
    if minor_amputation or (categories_up == -1 and fell):
        return -2
    if fell or categories_up == -1:
        return -1
    if symptom_free and index_after_hundredths is not None and index_after_hundredths > 90:
        return 3
    if rose and categories_up > 0:
        return 2
    return 1 if rose or categories_up > 0 else 0
