"""Readings and conditions of an exam to come, as a chart reads rows: without a database row behind them."""

from dataclasses import dataclass
from decimal import Decimal

from exams.visits.queries.chart import INFLATED
from exams.visits.typed import TypedReading


@dataclass(frozen=True, slots=True)
class Standing:
    """A reading that will stand at a place."""

    side: str
    site: str
    attempt: int
    value: TypedReading
    technique: str
    withdrawn: bool = False

    @property
    def outcome(self) -> str:
        return self.value.outcome

    @property
    def pressure_mmhg(self) -> Decimal | None:
        return self.value.pressure_mmhg

    @property
    def reason(self) -> str:
        return self.value.reason

    @property
    def reason_text(self) -> str:
        return self.value.reason_text

    @property
    def inflated(self) -> bool:
        return self.value.outcome in INFLATED


@dataclass(frozen=True, slots=True)
class StandingCondition:
    """A condition that will stand."""

    item: str
    value: str
