"""What faults would show, against a plain simulation; and that faults only take away."""

from hypothesis import given
from hypothesis import strategies as st

from tests.diagnosis.homes import faulty_homes, homes
from tests.diagnosis.plain import Plain
from ventrules.diagnosis import SingleFault, faults_of, symptoms_of
from ventrules.job import Job


@given(faulty_homes(most=3))
def test_faults_show_what_a_plain_simulation_says(drawn: tuple[Job, tuple[SingleFault, ...]]) -> None:
    job, faults = drawn
    shown, plain = symptoms_of(job, faults), Plain(job, faults).shown()
    assert shown.powered == plain.powered
    assert shown.reachable == plain.reachable
    assert shown.voltages == plain.voltages


@given(homes())
def test_without_a_fault_a_sound_job_works(job: Job) -> None:
    shown = symptoms_of(job)
    assert all(shown.powered.values())
    assert all(shown.reachable.values())
    assert all(shown.voltages.values())
    assert {word for found in shown.conductors.values() for word in found.values()} == {"through"}


@given(st.data())
def test_faults_only_take_away(data: st.DataObject) -> None:
    job, faults = data.draw(faulty_homes(most=3))
    more = symptoms_of(job, faults)
    fewer = symptoms_of(job, data.draw(st.lists(st.sampled_from(faults), unique=True, max_size=len(faults) - 1)))
    for with_more, with_fewer in (
        (more.powered, fewer.powered),
        (more.reachable, fewer.reachable),
        (more.voltages, fewer.voltages),
    ):
        assert with_more.keys() == with_fewer.keys()
        assert all(with_fewer[name] for name, works in with_more.items() if works)


@given(homes())
def test_every_fault_is_listed_once_and_in_order(job: Job) -> None:
    every = faults_of(job)
    assert len(set(every)) == len(every)
    assert list(every) == sorted(every, key=lambda fault: fault.rank)
    assert {fault.where for fault in every if not fault.conductors} >= set(symptoms_of(job).powered)
