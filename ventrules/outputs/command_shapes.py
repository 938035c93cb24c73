"""The shapes of the JSON documents of a repair and of a diagnosis, for their schemas."""

from attrs import frozen

from ventrules.outputs.json_shapes import Counts, Edit, Finding, Problem


@frozen
class Repair:
    """The outcome of `ventrules repair`.

    Attributes:
        version: The version of ventrules.
        file: The path as given.
        usable: Whether it could be read as a job; when not, only `problems` follows.
        problems: What kept it from being read, or from being changed.
        job: The job's name.
        ok: Whether rules ran and no error is left.
        written: Whether the file was written.
        before: Findings before the repair.
        after: Findings after it.
        changes: The findings that were answered, in order, each with its remedy.
        edits: All their edits in order, on the job's document without defaults.
        diff: What changes in the file, as a unified diff; empty when nothing does.
        offered: Findings whose remedy has to be bought.
        left: Findings that nothing answers which is done or offered.
    """

    version: str
    file: str
    usable: bool
    problems: tuple[Problem, ...]
    job: str = ""
    ok: bool = True
    written: bool = False
    before: Counts | None = None
    after: Counts | None = None
    changes: tuple[Finding, ...] = ()
    edits: tuple[Edit, ...] = ()
    diff: str = ""
    offered: tuple[Finding, ...] = ()
    left: tuple[Finding, ...] = ()


@frozen
class Seen:
    """What was seen or measured.

    Attributes:
        about: What it tells of.
        where: The device, the port or the cable.
        conductor: The conductor of a cable.
        value: The word for it, as `--seen` takes it.
        works: Whether it is as it should be.
        source: The indicator that told it, or what the job records; else empty.
        text: All of it in words.
    """

    about: str
    where: str
    conductor: str | None
    value: str
    works: bool
    source: str
    text: str


@frozen
class SuspectedFault:
    """One fault that may be there.

    Attributes:
        kind: What sort of fault.
        where: The cable, the port or the device.
        conductors: The conductors of the cable.
        text: All of it in words.
    """

    kind: str
    where: str
    conductors: tuple[str, ...]
    text: str


@frozen
class Candidate:
    """Faults that together explain what was seen.

    Attributes:
        faults: The faults.
        group: Candidates with the same number are told apart by no measurement.
    """

    faults: tuple[SuspectedFault, ...]
    group: int


@frozen
class StepOutcome:
    """What can come of a measurement.

    Attributes:
        words: The words for it, any of them.
        seen: The same as `--seen` takes it.
        leaves: Indexes of the candidates that are left then.
    """

    words: tuple[str, ...]
    seen: str
    leaves: tuple[int, ...]


@frozen
class NextStep:
    """What to look at or measure next.

    Attributes:
        method: How.
        where: The device, the port or the cable.
        detail: The indicator or the conductor.
        meter: Where the two probes go.
        outcomes: What can come of it.
        leaves_at_most: How many candidates are left in the worst case.
    """

    method: str
    where: str
    detail: str | None
    meter: tuple[str, ...]
    outcomes: tuple[StepOutcome, ...]
    leaves_at_most: int


@frozen
class Diagnosis:
    """The outcome of `ventrules diagnose`.

    Attributes:
        version: The version of ventrules.
        file: The path as given.
        usable: Whether the file and all words could be used; when not, only `problems` follows.
        problems: What kept it from being used.
        job: The job's name.
        nothing_to_explain: Whether all that was seen is as it should be.
        seen: What was seen and measured, sorted.
        recorded: Of that, what fails by the recorded wiring without any fault.
        misrecorded: What works though it could not by the recorded wiring.
        outdated: What the job records and was left out, as it does not go with what was seen.
        clash: What no faults explain together, where nothing explains everything.
        candidates: The smallest sets of faults, what to suspect first at the beginning.
        next: What to look at or measure next; null where nothing tells the candidates apart.
        cautions: What can hurt whoever goes to look.
        most_faults: The most faults that were taken together.
        cut_off: Whether the search ended before everything was tried.
    """

    version: str
    file: str
    usable: bool
    problems: tuple[Problem, ...]
    job: str = ""
    nothing_to_explain: bool = False
    seen: tuple[Seen, ...] = ()
    recorded: tuple[Seen, ...] = ()
    misrecorded: tuple[Seen, ...] = ()
    outdated: tuple[Seen, ...] = ()
    clash: tuple[Seen, ...] = ()
    candidates: tuple[Candidate, ...] = ()
    next: NextStep | None = None
    cautions: tuple[str, ...] = ()
    most_faults: int = 0
    cut_off: bool = False
