"""A step names its procedure; one that is not in the table is refused before anything is opened."""

from __future__ import annotations

import pytest

from benchd.errors import PlanUnfit
from benchd.patch.model import field, grey
from benchd.plan.step import Step
from benchd.run.procedures.table import PROCEDURES, refuse_unknown


def test_an_unknown_procedure_is_refused_by_name() -> None:
    steps = [Step(name, "b", name, field(grey(0)), {}) for name in PROCEDURES]
    refuse_unknown(steps)
    with pytest.raises(PlanUnfit, match="step b/1 is read by the procedure 'trace', which this benchd does not have"):
        refuse_unknown([*steps, Step("b/1", "b", "trace", field(grey(0)), {})])
