"""Whether a mode can be lowered, mostly told without the least program; and many ventilators at once."""

import numpy as np
import pytest
from attrs import evolve
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.bench.sample import SIX_DEVICES, long_street
from ventrules import Severity, Survey, installed_rules, job_from_document
from ventrules.engine import run
from ventrules.engine.findings import Document
from ventrules.job import Job, Occupancy
from ventrules.planner import can_be_lowered, lower_mode
from ventrules.planner.kits import kit_for
from ventrules.planner.options import Combined, as_set, options
from ventrules.rules import selectors
from ventrules.survey import Delivery, Run
from ventrules.testing import jobs
from ventrules.units import Duration

FEW = settings(max_examples=min(settings().max_examples, 40))


@FEW
@given(jobs(), st.data())
def test_it_is_told_as_the_least_program_tells_it(job: Job, data: st.DataObject) -> None:
    """In jobs that are sound, and in the same with other minutes: more or less than it takes, and off the grid."""
    minutes = data.draw(st.sampled_from([None, 10, 25, 45, 60, 7.5, 20.0 / 3.0]))
    if minutes is not None:
        settings_of = {
            name: evolve(
                own,
                programs={
                    mode: {
                        season: evolve(program, stages={stage: Duration.of(minutes, "min") for stage in program.stages})
                        for season, program in by_season.items()
                    }
                    for mode, by_season in own.programs.items()
                },
            )
            for name, own in job.settings.items()
        }
        job = evolve(job, settings=settings_of)
    for view in selectors.judged_modes(Survey(job)):
        if view.judged is not None:
            assert can_be_lowered(view) == (lower_mode(view) is not None)


def test_no_least_program_is_looked_for_where_nobody_wants_a_remedy(monkeypatch: pytest.MonkeyPatch) -> None:
    document: dict[str, Document] = {**SIX_DEVICES, "target": {"airflow": "40 cfm", "window": "4 h"}}
    job = job_from_document(document)
    looked: list[object] = []
    monkeypatch.setattr("ventrules.planner.alone.least_alone", lambda *given: looked.append(given))
    above = [f for f in run(installed_rules(), Survey(job), remedies=False) if f.rule == "airflow/above-target"]
    assert len(above) == 4
    assert not looked


@pytest.mark.parametrize("count", [1, 2, 70])
def test_any_number_of_ventilators_is_combined(count: int) -> None:
    """Arrays have a few dozen dimensions at most: who keeps its program takes none."""
    survey = Survey(job_from_document(SIX_DEVICES))
    unit, requirement = survey.driven[0], survey.requirement
    assert unit.grid is not None
    own = options(kit_for(unit, unit.grid), requirement)
    kept = [
        as_set(Delivery((Run("low", 0.01 * number, 1800.0),), 3600.0), {}, requirement)
        for number in range(1, count + 1)
    ]
    together = Combined([own, *kept])
    assert len(together) == len(own)
    numbers = np.arange(len(own))
    rest = sum(part.cost[0] for part in kept)
    assert np.allclose(together.costs(numbers, (0, 1, 2)), own.cost + rest)
    assert np.allclose(together.cost(0), own.cost[:, 0] + rest[0])
    assert [together.number(together.picked(number)) for number in range(len(own))] == list(range(len(own)))
    assert together.picked(3) == (3, *[0] * count)
    assert together.enough(requirement, Occupancy.OCCUPIED).shape == (len(own),)


def test_a_job_of_seventy_ventilators_above_its_target_is_judged() -> None:
    document = long_street(3 * 70 + 1)
    document["target"] = {"airflow": f"{20 * 70} cfm", "window": "4 h"}
    findings = run(installed_rules(), Survey(job_from_document(document)), remedies=False)
    assert "engine/rule-failed" not in {finding.rule for finding in findings}
    above = [finding for finding in findings if finding.rule == "airflow/above-target"]
    assert len(above) == 2
    assert {finding.severity for finding in above} == {Severity.ADVICE}
