"""The measures as questions to the database: each gives one row a unit. `ALL` has one for each counted id."""

from collections.abc import Callable, Mapping
from typing import Any

from django.db.models import QuerySet

from reports.audit.counted import critical, outcomes, process, recordings, records, times
from reports.audit.counted.rows import Scope

Units = Callable[[Scope], "QuerySet[Any, Any]"]

ALL: Mapping[str, Units] = {
    "P01": process.rested,
    "P02": process.toe_temperature,
    "P03": process.cold_repeated,
    "P04": process.both_arms,
    "P05": process.arms_apart,
    "P06": process.toe_repeats,
    "P07": process.toe_spread,
    "P08": process.empty_sites,
    "P09": process.reasons,
    "P10": process.stiff_ankles,
    "P11": process.stiff_with_toe,
    "P12": process.ulcer_with_toe,
    "P13": outcomes.toe_of_new_ulcer,
    "P14": recordings.unreadable,
    "P15": recordings.leaking,
    "P16": recordings.moved,
    "P17": recordings.apart,
    "P18": process.cleaned,
    "T02": times.interpreted,
    "T05": times.to_accepted,
    "T06": times.to_revascularised,
    "T07": times.to_assessed,
    "T08": times.not_attended,
    "C01": critical.told_in_time,
    "C02": critical.read_back,
    "C03": critical.without_action,
    "C04": critical.without_slip,
    "O01": outcomes.healed_at_12,
    "O02": outcomes.healed_at_24,
    "O03": outcomes.major_amputation,
    "O04": outcomes.minor_amputation,
    "O05": outcomes.death,
    "O06": outcomes.revascularised,
    "O07": outcomes.new_baseline,
    "O08": records.overdue,
    "O09": outcomes.stale,
    "Q02": records.in_a_study,
    "D01": records.merged,
    "D02": records.diabetes_unknown,
    "D04": times.entered_from_paper,
}
