"""The engine by itself, with toy rules about fence posts: it knows nothing about ventilation."""

import json
import pickle
from collections.abc import Callable, Iterable, Sequence

import pytest
from attrs import evolve, frozen
from hypothesis import given
from hypothesis import strategies as st

from ventrules.engine import (
    ENGINE_FINDINGS,
    AnyRule,
    CannotTell,
    Edit,
    EditKind,
    Evidence,
    Finding,
    PackFailure,
    Place,
    Position,
    Registry,
    RegistryError,
    Remedy,
    Report,
    Rule,
    Severity,
    evidence,
    pointer,
    run,
)
from ventrules.sources import Basis, Known, practice
from ventrules.units import Length, UnitError

BASIS = practice("a fence stands upright")
FAMILIES = ("post", "rail")


@frozen
class Post:
    """One post; a height of None was not measured."""

    name: str
    height: float | None = 1.0

    @property
    def place(self) -> Place:
        return Place.at("posts", self.name)


@frozen
class Fence:
    posts: tuple[Post, ...]


def _posts(fence: Fence) -> Iterable[Post]:
    return fence.posts


def _short(post: Post) -> Evidence | CannotTell | None:
    if post.height is None:
        return CannotTell(f"the height of {post.name}")
    return evidence(post=post.name, height=Length.of(post.height, "m")) if post.height < 1 else None


def _raise(_post: Post) -> Evidence | None:
    raise ZeroDivisionError("no gate")


def _no_remedy(_post: Post) -> Remedy:
    raise LookupError("no longer post")


def _each_raises(_fence: Fence) -> Iterable[Post]:
    raise KeyError("posts")


def _longer(post: Post) -> Remedy:
    return Remedy("Take a longer post", (Edit(EditKind.REPLACE, ("posts", post.name, "height"), "1 m"),), "Look first.")


def rule(
    name: str = "post/too-short",
    check: Callable[[Post], Evidence | CannotTell | None] = _short,
    *,
    message: str = "{post} is {height} high.",
    severity: Severity = Severity.ERROR,
    each: Callable[[Fence], Iterable[Post]] = _posts,
    remedy: Callable[[Post], Remedy | None] | None = None,
) -> Rule[Fence, Post]:
    return Rule(name, "A post is too short", severity, each, check, message, "Mend it.", BASIS, remedy=remedy)


def registry(*rules: AnyRule[Fence], pack: str = "fences") -> Registry[Fence]:
    return Registry.build([(pack, rules)], FAMILIES)


def report(findings: Sequence[Finding], rules_run: Sequence[str] = ("post/too-short",)) -> Report:
    return Report("Fence", "fence.yaml", tuple(findings), tuple(rules_run))


FENCE = Fence((Post("north", 0.5), Post("south"), Post("west", None)))


@pytest.mark.parametrize(
    "name", ["", "post", "post/", "/short", "Post/short", "post/Short", "post/a b", "post/a/b", "post/-a", "post/a--b"]
)
def test_a_malformed_id_is_refused_when_declared_and_when_registered(name: str) -> None:
    with pytest.raises(ValueError, match="malformed"):
        rule(name)
    with pytest.raises(RegistryError, match="malformed"):
        registry(Foreign(name))


@pytest.mark.parametrize("name", ["post/a", "rail/2-nails", "post/too-short"])
def test_a_well_formed_id_is_taken(name: str) -> None:
    assert [r.id for r in registry(rule(name))] == [name]
    assert rule(name).family == name.partition("/")[0]


@frozen
class Foreign:
    """A rule that is no `Rule`: anything with the same face will do."""

    id: str
    title: str = "Foreign"
    severity: Severity = Severity.ADVICE
    basis: Basis = BASIS
    cautions: tuple[str, ...] = ()
    since: str = "0.1"

    @property
    def family(self) -> str:
        return self.id.partition("/")[0]

    def examine(self, view: Fence, *, remedies: bool = True) -> Iterable[Finding]:  # noqa: ARG002 - it has none
        for post in view.posts:
            yield Finding(self.id, self.title, self.severity, post.place, "seen", "nothing", self.basis)


def test_a_duplicate_id_is_refused_with_both_packs() -> None:
    with pytest.raises(RegistryError, match=r"'post/too-short' is declared twice: by pack 'a' and by pack 'b'"):
        Registry.build([("a", [rule()]), ("b", [rule()])], FAMILIES)
    with pytest.raises(RegistryError, match="twice"):
        registry(rule(), rule())


def test_an_unknown_family_is_refused_with_the_known_ones() -> None:
    with pytest.raises(RegistryError, match=r"unknown family 'gate'; expected post or rail"):
        registry(rule("gate/open"))


@pytest.mark.parametrize("field", ["{0}", "{}", "{post.name}", "{post[0]}", "{post!r} {a.b}"])
def test_a_placeholder_that_is_no_name_is_refused_when_declared(field: str) -> None:
    with pytest.raises(ValueError, match="placeholder"):
        rule(message=field)


def test_rules_run_in_the_order_of_their_ids_whatever_the_order_of_packs() -> None:
    packs = [("a", [rule("rail/z"), rule("post/b")]), ("b", [rule("post/a")])]
    one, other = Registry.build(packs, FAMILIES), Registry.build(packs[::-1], FAMILIES)
    assert [r.id for r in one] == [r.id for r in other] == ["post/a", "post/b", "rail/z"]
    assert one.packs == {"rail/z": "a", "post/b": "a", "post/a": "b"}
    assert len(one) == 3
    assert one.rule("post/b").id == "post/b"


THREE = registry(rule("post/a"), rule("post/b"), rule("rail/c"))


@pytest.mark.parametrize(
    ("only", "skip", "kept"),
    [
        ((), (), ["post/a", "post/b", "rail/c"]),
        (("post",), (), ["post/a", "post/b"]),
        (("rail/c", "post/a"), (), ["post/a", "rail/c"]),
        ((), ("post",), ["rail/c"]),
        (("post",), ("post/a",), ["post/b"]),
        (("post/a",), ("post",), []),
    ],
)
def test_select(only: tuple[str, ...], skip: tuple[str, ...], kept: list[str]) -> None:
    fewer = THREE.select(only, skip)
    assert [r.id for r in fewer] == kept
    assert (fewer.packs, fewer.failures) == (THREE.packs, THREE.failures)


@pytest.mark.parametrize(("entry", "near"), [("post/aa", "post/a"), ("post/A", "post/a"), ("rial", "rail")])
def test_selecting_what_is_not_there_names_the_nearest(entry: str, near: str) -> None:
    for kind in ("only", "skip"):
        with pytest.raises(RegistryError, match=rf"unknown rule or family '{entry}'; nearest is '{near}'"):
            THREE.select(**{kind: (entry,)})


@pytest.mark.parametrize("entry", ["", "zzzzzz"])
def test_selecting_what_is_not_there_is_never_silent(entry: str) -> None:
    with pytest.raises(RegistryError, match=f"unknown rule or family '{entry}'$"):
        THREE.select(skip=(entry,))
    with pytest.raises(RegistryError, match=f"unknown rule '{entry}'$"):
        THREE.rule(entry)


def test_nothing_wrong_evidence_and_cannot_tell() -> None:
    found, untold = run(registry(rule(remedy=_longer)), FENCE)
    assert (found.message, found.pointer, found.unchecked) == ("north is 0.5 m high.", "/posts/north", False)
    assert found.remedy == _longer(FENCE.posts[0])
    assert (untold.message, untold.pointer) == ("the height of west", "/posts/west")
    assert (untold.unchecked, untold.remedy, untold.severity) == (True, None, Severity.ERROR)


def test_what_could_not_be_told_is_counted_apart() -> None:
    told = report(run(registry(rule()), FENCE))
    assert [len(told.of(severity)) for severity in Severity] == [1, 0, 0]
    assert [finding.place.name for finding in told.unchecked] == ["posts / west"]
    assert not told.ok
    untold = report(run(registry(rule()), Fence((Post("west", None),))))
    assert untold.ok
    assert len(untold.unchecked) == 1
    assert untold.as_dict()["counts"] == {"error": 0, "warning": 0, "advice": 0, "unchecked": 1, "accepted": 0}


def test_evidence_can_carry_a_closer_place_basis_and_relations() -> None:
    nearer, other, clause = Place.at("posts", "north", "foot"), Place.at("rails"), Basis("A book", Known.SEEN, "§ 1")
    check = rule(
        check=lambda post: evidence(at=nearer, related=(other,), basis=clause, post=post.name, height=("a", "b"))
    )
    (finding,) = run(registry(check), Fence((Post("north"),)))
    assert (finding.place, finding.related, finding.basis) == (nearer, (other,), clause)
    assert finding.message == "north is a and b high."


@pytest.mark.parametrize(
    ("broken", "error"),
    [
        (rule("post/broken", _raise), "ZeroDivisionError: no gate"),
        (rule("post/broken", each=_each_raises), "KeyError: 'posts'"),
        (rule("post/broken", message="{post} and {nobody}"), "KeyError: 'nobody'"),
        (rule("post/broken", remedy=_no_remedy), "LookupError: no longer post"),
        (rule("post/broken", check=lambda _post: 1), "AttributeError"),  # type: ignore[arg-type,return-value]
    ],
)
def test_a_rule_that_raises_is_a_finding_and_the_others_still_run(broken: Rule[Fence, Post], error: str) -> None:
    findings = run(Registry.build([("good", [rule()]), ("shaky", [broken])], FAMILIES), FENCE)
    (failed,) = [finding for finding in findings if finding.rule == "engine/rule-failed"]
    assert failed.message.startswith("Rule post/broken of pack shaky failed ")
    assert f" with {error}" in failed.message
    assert failed.evidence == {"rule": "post/broken", "pack": "shaky", "error": error.partition(":")[0]}
    assert (failed.severity, failed.unchecked) == (Severity.ERROR, False)
    assert [f for f in findings if f.rule == "post/too-short"] == list(run(registry(rule()), FENCE))
    assert not report(findings).ok


def test_stopping_the_program_is_no_fault_of_a_rule() -> None:
    def stop(_post: Post) -> Evidence | None:
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        run(registry(rule(check=stop)), FENCE)


def test_an_empty_registry_is_a_finding_and_no_success() -> None:
    for empty in (registry(), THREE.select(only=("post",), skip=("post",))):
        (finding,) = run(empty, FENCE)
        assert (finding.rule, finding.severity) == ("engine/no-rule-run", Severity.ERROR)
        assert not report([finding], rules_run=()).ok
    assert not report([], rules_run=()).ok


def test_what_the_engine_itself_reports_is_explained() -> None:
    failed = run(registry(rule(check=_raise)), FENCE)[0]
    said = [failed, *run(registry(), FENCE), PackFailure("gates", "ImportError: no hinges").as_finding()]
    of_the_policy = {"engine/acceptance-expired", "engine/acceptance-unused", "engine/baseline-entry-gone"}
    of_reports = {"engine/unusable-file"}
    assert {finding.rule for finding in said} | of_the_policy | of_reports == ENGINE_FINDINGS.keys()
    assert all(text.startswith(f"# {name}\n") for name, text in ENGINE_FINDINGS.items())


def test_a_pack_that_failed_is_in_every_report() -> None:
    failure = PackFailure("gates", "ImportError: no hinges").as_finding()
    with_failure = evolve(registry(rule()), failures=(failure,))
    assert failure in run(with_failure, Fence(()))
    assert failure in run(with_failure.select(only=("post",)), FENCE)


@given(st.permutations([Post("a", 0.5), Post("b", 0.1), Post("c", None), Post("d", 2.0), Post("e", None)]), st.data())
def test_findings_come_in_their_documented_order_whatever_is_written_first(
    posts: list[Post], data: st.DataObject
) -> None:
    rules = data.draw(
        st.permutations(
            [
                rule("rail/a", severity=Severity.ADVICE),
                rule("post/b", severity=Severity.WARNING),
                rule("post/c"),
                rule("post/a"),
            ]
        )
    )
    findings = run(registry(*rules), Fence(tuple(posts)))
    # checks made first, the worst first, then by place and rule
    ranks = [(f.unchecked, list(Severity).index(f.severity), f.place.name, f.rule) for f in findings]
    assert ranks == sorted(ranks)
    assert len(set(ranks)) == len(ranks) == 4 * 4
    assert {f.rule for f in findings[:4]} == {"post/a", "post/c"}


FINDING = Finding("post/a", "Title", Severity.ERROR, Place(("cables", 3), "cables / a to b"), "message", "todo", BASIS)
positions = st.none() | st.builds(Position, st.just("f.yaml"), st.integers(1, 10**6), st.integers(1, 500))


@given(st.integers(0, 10**6), positions, st.text(), st.sampled_from(list(Severity)))
def test_a_fingerprint_is_made_from_meaning_alone(
    index: int, position: Position | None, message: str, severity: Severity
) -> None:
    moved = evolve(
        FINDING,
        place=Place(("cables", index), "cables / a to b"),
        position=position,
        message=message,
        severity=severity,
    )
    assert moved.fingerprint == FINDING.fingerprint


def test_a_fingerprint_tells_rule_place_and_unchecked_apart() -> None:
    variants = [
        FINDING,
        evolve(FINDING, rule="post/b"),
        evolve(FINDING, place=Place(("cables", 3), "cables / a to c")),
        evolve(FINDING, unchecked=True),
    ]
    assert len({variant.fingerprint for variant in variants}) == 4
    assert all(len(variant.fingerprint) == 16 for variant in variants)


@pytest.mark.parametrize(
    ("path", "written"),
    [
        # RFC 6901, section 5
        ((), ""),
        (("foo",), "/foo"),
        (("foo", 0), "/foo/0"),
        (("",), "/"),
        (("a/b",), "/a~1b"),
        (("c%d",), "/c%d"),
        (("e^f",), "/e^f"),
        (("g|h",), "/g|h"),
        (("i\\j",), "/i\\j"),
        (('k"l',), '/k"l'),
        ((" ",), "/ "),
        (("m~n",), "/m~0n"),
    ],
)
def test_pointer(path: tuple[str | int, ...], written: str) -> None:
    assert pointer(path) == written


@given(st.lists(st.text() | st.text("~/01"), max_size=5))
def test_a_pointer_can_be_read_back(path: list[str]) -> None:
    # RFC 6901, section 4: first ~1 to /, then ~0 to ~
    read = [step.replace("~1", "/").replace("~0", "~") for step in pointer(tuple(path)).split("/")[1:]]
    assert read == path


def _full_report() -> Report:
    broken = rule("post/broken", _raise)
    findings = run(registry(rule(remedy=_longer), broken), FENCE)
    return report([evolve(finding, position=Position("fence.yaml", 3, 5)) for finding in findings])


def test_everything_in_a_report_can_be_pickled() -> None:
    whole = _full_report()
    prints = [finding.fingerprint for finding in whole.findings]
    for protocol in range(pickle.HIGHEST_PROTOCOL + 1):
        again = pickle.loads(pickle.dumps(whole, protocol))  # noqa: S301 - our own bytes
        assert again == whole
        assert [finding.fingerprint for finding in again.findings] == prints
        assert again.as_dict() == whole.as_dict()
    for error in (UnitError("no unit"), RegistryError("unknown rule")):
        assert str(pickle.loads(pickle.dumps(error))) == str(error)  # noqa: S301 - our own bytes


def test_a_report_as_plain_data() -> None:
    whole = _full_report()
    data = json.loads(json.dumps(whole.as_dict(), allow_nan=False))
    assert data == whole.as_dict()
    assert data["counts"] == {"error": 2, "warning": 0, "advice": 0, "unchecked": 1, "accepted": 0}
    assert sum(data["counts"].values()) == len(data["findings"]) == 3
    (found,) = [finding for finding in data["findings"] if finding["pointer"] == "/posts/north"]
    assert found["evidence"] == {"post": "north", "height": {"value": 0.5, "unit": "m", "text": "0.5 m"}}
    assert found["remedy"]["edits"] == [{"op": "replace", "path": "/posts/north/height", "value": "1 m"}]
    assert found["position"] == {"line": 3, "column": 5}
    assert (data["ok"], data["rules_run"], found["basis"]["known"]) == (False, 1, "common practice")
