"""Laws of diagnosis: the true fault is never lost, every measurement helps, names and order make no difference."""

from collections.abc import Callable, Sequence
from typing import TypeVar

import attrs
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.strategies import DrawFn

from tests.diagnosis.homes import faulty_homes, homes, looked_at, part_of, told
from ventrules import Diagnosis, Symptoms, diagnose
from ventrules.diagnosis import Method, Outcome, SingleFault, Step, faults_of, symptoms_of
from ventrules.files import job_from_document
from ventrules.job import Cable, Conductors, Job, Shown
from ventrules.testing import FAULTS, job_documents

T = TypeVar("T")
FAULTS_OF_A_JOB = 6


def with_more(symptoms: Symptoms, step: Step, outcome: Outcome) -> Symptoms:
    """What was seen, and the outcome of a measurement."""
    measured, word = step.measurement, outcome.words[0]
    where = measured.where
    if measured.method is Method.POWERED:
        return attrs.evolve(symptoms, powered={**symptoms.powered, where: word == "powered"})
    if measured.method is Method.REACHABLE:
        return attrs.evolve(symptoms, reachable={**symptoms.reachable, where: word == "reachable"})
    if measured.method is Method.VOLTAGE:
        return attrs.evolve(symptoms, voltages={**symptoms.voltages, where: word == "voltage"})
    if measured.method is Method.INDICATOR:
        light, _colon, state = word.partition(":")
        lights = {**symptoms.indicators.get(where, {}), light: Shown(state)}
        return attrs.evolve(symptoms, indicators={**symptoms.indicators, where: lights})
    conductors = {**symptoms.conductors.get(where, {}), measured.detail: word}
    return attrs.evolve(symptoms, conductors={**symptoms.conductors, where: conductors})


def numbers_with(found: Diagnosis, faults: tuple[SingleFault, ...]) -> list[int]:
    wanted = set(faults)
    return [number for number, candidate in enumerate(found.candidates) if set(candidate.faults) == wanted]


@given(st.data())
def test_the_true_fault_is_a_candidate_and_each_measurement_leaves_fewer(data: st.DataObject) -> None:
    job = data.draw(homes())
    for fault in data.draw(
        st.lists(st.sampled_from(faults_of(job)), min_size=1, max_size=FAULTS_OF_A_JOB, unique=True)
    ):
        symptoms = looked_at(symptoms_of(job, (fault,)))
        seen = data.draw(part_of(symptoms))
        found = diagnose(job, seen)
        if found.nothing_to_explain:
            assert not found.candidates
            continue
        while found.step is not None:
            (number,) = numbers_with(found, (fault,))
            possible = [outcome for outcome in found.step.outcomes if number in outcome.leaves]
            assert possible
            outcome = data.draw(st.sampled_from(possible))
            seen = with_more(seen, found.step, outcome)
            after = diagnose(job, seen)
            left = [found.candidates[n] for n in outcome.leaves]
            assert list(after.candidates) == left
            assert len(left) < len(found.candidates)
            assert len(left) <= found.step.worst
            found = after
        assert numbers_with(found, (fault,))
        assert len(found.groups) == 1


@given(st.data())
@settings(max_examples=40)
def test_what_a_fault_does_not_show_is_not_suspected(data: st.DataObject) -> None:
    job = data.draw(homes())
    assert not diagnose(job, symptoms_of(job)).candidates
    hidden = [f for f in faults_of(job) if told(looked_at(symptoms_of(job, (f,)))) == told(looked_at(symptoms_of(job)))]
    for fault in hidden[:FAULTS_OF_A_JOB]:
        found = diagnose(job, looked_at(symptoms_of(job, (fault,))))
        assert found.nothing_to_explain
        assert not found.candidates
        assert found.step is None


@given(st.data())
@settings(max_examples=40)
def test_every_candidate_shows_what_was_seen_and_none_is_larger_than_the_truth(data: st.DataObject) -> None:
    job, truth = data.draw(faulty_homes(most=2))
    seen = data.draw(part_of(looked_at(symptoms_of(job, truth))))
    found = diagnose(job, seen)
    assert bool(found.candidates) != found.nothing_to_explain
    for candidate in found.candidates:
        assert told(seen) <= told(symptoms_of(job, candidate.faults))
        assert len(candidate.faults) <= len(truth)
    assert sorted(number for group in found.groups for number in group) == list(range(len(found.candidates)))
    assert not found.clash
    assert not found.recorded
    assert not found.misrecorded


def with_records(job: Job, day: Symptoms) -> Job:
    """A job whose indicators and voltages are recorded as they are seen on one day."""
    lights = {
        name: {
            light: Shown(next(s.state for s in states if (s.powered, s.reachable) == (day.powered[name], working)))
            for light, states in job.model_of(name).indicators.items()
        }
        for name, working in day.reachable.items()
    }
    nominal = {end: job.model_of(end.partition(".")[0]).ports[end.partition(".")[2]].voltage for end in day.voltages}
    return attrs.evolve(
        job, indicators=lights, voltages={end: volts for end, volts in nominal.items() if volts is not None}
    )


@settings(max_examples=40)
@given(st.data())
def test_records_of_a_sound_day_give_way_to_what_is_seen(data: st.DataObject) -> None:
    job, truth = data.draw(faulty_homes())
    job = with_records(job, symptoms_of(job))
    seen = data.draw(part_of(looked_at(symptoms_of(job, truth))))
    found = diagnose(job, seen)
    assert not found.clash
    assert found.candidates or found.nothing_to_explain or found.cut_off
    assert all(each.recorded for each in found.outdated)
    assert not set(found.outdated) & set(found.seen)
    for candidate in found.candidates:
        shown = told(symptoms_of(job, candidate.faults))
        assert told(seen) <= shown
        assert {(each.shows.value, each.where, each.works) for each in found.seen} <= shown


WIRED_WRONG = tuple(fault for fault in FAULTS if fault.rule.partition("/")[0] in {"wiring", "power", "equipment"})


@given(st.data())
def test_beside_what_is_recorded_wrong_the_true_fault_is_still_found(data: st.DataObject) -> None:
    maker = data.draw(st.sampled_from(WIRED_WRONG))

    def pick(choices: Sequence[T]) -> T:
        return data.draw(st.sampled_from(choices))

    made = maker.apply(data.draw(job_documents()), pick)
    if made is None:
        return
    job = job_from_document(made.document)
    sound = told(looked_at(symptoms_of(job)))
    as_recorded = diagnose(job, looked_at(symptoms_of(job)))
    assert not as_recorded.candidates
    assert as_recorded.recorded == as_recorded.fails
    every = faults_of(job)
    for fault in data.draw(st.lists(st.sampled_from(every), max_size=FAULTS_OF_A_JOB, unique=True)) if every else ():
        seen = looked_at(symptoms_of(job, (fault,)))
        found = diagnose(job, seen)
        assert not found.misrecorded
        assert not found.clash
        assert bool(numbers_with(found, (fault,))) == (told(seen) != sound)


@st.composite
def anything_seen(draw: DrawFn, job: Job) -> Symptoms:
    """What need not make sense."""
    words = st.booleans()
    every = symptoms_of(job)
    return Symptoms(
        powered=draw(st.dictionaries(st.sampled_from(sorted(every.powered)), words, max_size=3)),
        reachable=draw(st.dictionaries(st.sampled_from(sorted(every.reachable)), words, max_size=3)),
        voltages=draw(st.dictionaries(st.sampled_from(sorted(every.voltages)), words, max_size=3)),
    )


@given(st.data())
def test_what_excludes_each_other_is_named_and_no_more_than_that(data: st.DataObject) -> None:
    job = data.draw(homes())
    seen = data.draw(anything_seen(job))
    found = diagnose(job, seen)
    for candidate in found.candidates:
        assert told(seen) <= told(symptoms_of(job, candidate.faults))
    assert found.nothing_to_explain or found.candidates or found.clash or found.cut_off
    clash = {(each.shows.value, each.where) for each in found.clash}
    if clash:
        assert not found.candidates
    for left_out in sorted(clash):

        def kept(what: str, of: dict[str, bool], left_out: tuple[str, str] = left_out) -> dict[str, bool]:
            return {name: works for name, works in of.items() if (what, name) in clash - {left_out}}

        fewer = Symptoms(
            powered=kept("powered", dict(seen.powered)),
            reachable=kept("reachable", dict(seen.reachable)),
            voltages=kept("voltage", dict(seen.voltages)),
        )
        rest = diagnose(job, fewer)
        assert rest.candidates or rest.nothing_to_explain or rest.cut_off


# Names and order


def renamed(value: str) -> str:
    """A device, a port or a cable under other names that sort alike."""
    return " to ".join(f"unit {end}" for end in value.split(" to "))


def same(value: str) -> str:
    return value


def summary(found: Diagnosis, name: Callable[[str], str] = same) -> list[object]:
    step = found.step
    return [
        [[(f.kind, name(f.where), f.conductors) for f in candidate.faults] for candidate in found.candidates],
        found.groups,
        step and (step.measurement.method, name(step.measurement.where), step.measurement.detail, step.outcomes),
    ]


@given(st.data())
@settings(max_examples=40)
def test_other_names_make_no_difference(data: st.DataObject) -> None:
    job, truth = data.draw(faulty_homes(most=2))
    seen = data.draw(part_of(symptoms_of(job, truth)))
    other = attrs.evolve(
        job,
        devices={renamed(name): device for name, device in job.devices.items()},
        cables=tuple(attrs.evolve(c, start=renamed(c.start), end=renamed(c.end)) for c in job.cables),
        settings={},
    )
    seen_there = Symptoms(
        powered={renamed(name): works for name, works in seen.powered.items()},
        reachable={renamed(name): works for name, works in seen.reachable.items()},
        voltages={renamed(name): works for name, works in seen.voltages.items()},
        conductors={renamed(name): found for name, found in seen.conductors.items()},
    )
    assert summary(diagnose(other, seen_there)) == summary(diagnose(job, seen), renamed)


def turned(cable: Cable) -> Cable:
    """A cable drawn from its other end."""
    joined = cable.conductors
    if joined is not None:
        items = tuple(attrs.evolve(each, start=each.end, end=each.start) for each in joined)
        joined = Conductors(items, listed=joined.listed)
    return attrs.evolve(cable, start=cable.end, end=cable.start, conductors=joined)


@given(st.data())
@settings(max_examples=40)
def test_order_and_direction_make_no_difference(data: st.DataObject) -> None:
    job, truth = data.draw(faulty_homes(most=2, rings=False))
    seen = data.draw(part_of(symptoms_of(job, truth)))
    cables = data.draw(st.permutations([data.draw(st.sampled_from([c, turned(c)])) for c in job.cables]))
    devices = dict(data.draw(st.permutations(sorted(job.devices.items()))))
    other = attrs.evolve(job, devices=devices, cables=tuple(cables))
    assert summary(diagnose(other, seen)) == summary(diagnose(job, seen))
