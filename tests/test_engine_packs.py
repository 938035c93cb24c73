"""Rule packs, sound and broken, through entry points made for the purpose."""

import sys
from importlib.metadata import EntryPoint
from pathlib import Path
from types import ModuleType

import pytest

from tests.test_engine import FAMILIES, FENCE, Fence, Foreign, report, rule
from ventrules.engine import ENGINE_INTERFACE, AnyRule, Pack, Severity, load_packs, run


def _point(monkeypatch: pytest.MonkeyPatch, name: str, pack: object) -> EntryPoint:
    module = ModuleType(f"toy_{name}")
    module.PACK = pack  # type: ignore[attr-defined]
    monkeypatch.setitem(sys.modules, module.__name__, module)
    return EntryPoint(name, f"{module.__name__}:PACK", "ventrules.rules")


def _pack(*rules: AnyRule[Fence], interface: int = ENGINE_INTERFACE, name: str = "zz") -> Pack[Fence]:
    return Pack(name, rules, frozenset(FAMILIES), interface=interface)


def test_a_sound_pack_comes_in(monkeypatch: pytest.MonkeyPatch) -> None:
    loaded, packs = load_packs(Fence, [_point(monkeypatch, "good", _pack(rule(), name="good"))])
    assert ([r.id for r in loaded], loaded.failures) == (["post/too-short"], ())
    assert [pack.name for pack in packs] == ["good"]


BROKEN = {
    "text": ("no PACK at all", "is not a Pack"),
    "function": (_pack, "is not a Pack"),
    "interface": (_pack(rule("post/b"), interface=ENGINE_INTERFACE + 1), f"engine interface {ENGINE_INTERFACE + 1}"),
    "twice": (_pack(rule("post/b"), rule("post/b")), "declared twice"),
    "clash": (_pack(rule()), "declared twice"),
    "family": (_pack(rule("gate/open")), "unknown family 'gate'"),
    "malformed": (_pack(Foreign("Post/Short")), "malformed"),
    "no-rule": (Pack("zz", (object(),)), "TypeError"),  # type: ignore[arg-type]
    "no-rules": (Pack("zz", ()), "no rule"),
    "no-families": (Pack("zz", (rule("post/b"),), families=None), "TypeError"),  # type: ignore[arg-type]
}


@pytest.mark.parametrize(("broken", "why"), BROKEN.values(), ids=BROKEN)
def test_a_broken_pack_is_named_and_harms_no_other(monkeypatch: pytest.MonkeyPatch, broken: object, why: str) -> None:
    points = [_point(monkeypatch, "zz", broken), _point(monkeypatch, "good", _pack(rule(), name="good"))]
    loaded, _packs = load_packs(Fence, points)
    assert [r.id for r in loaded] == ["post/too-short"]
    (failure,) = loaded.failures
    assert (failure.rule, failure.severity) == ("engine/pack-failed", Severity.ERROR)
    assert "Rule pack zz could not be used" in failure.message
    assert why in failure.message
    assert failure in run(loaded, FENCE)


def test_the_rules_of_a_pack_may_come_from_a_generator() -> None:
    assert [r.id for r in Pack("zz", (rule(name) for name in ("post/b", "post/c"))).rules] == ["post/b", "post/c"]
    with pytest.raises(TypeError):
        Pack("zz", None)  # type: ignore[arg-type]


@pytest.mark.parametrize("kind", ["text", "interface", "twice", "clash", "family", "malformed"])
def test_only_packs_that_could_be_used_are_returned(monkeypatch: pytest.MonkeyPatch, kind: str) -> None:
    points = [_point(monkeypatch, "zz", BROKEN[kind][0]), _point(monkeypatch, "good", _pack(rule(), name="good"))]
    _loaded, packs = load_packs(Fence, points)
    assert [pack.name for pack in packs] == ["good"]


def test_the_order_of_entry_points_does_not_decide_which_of_two_packs_wins(monkeypatch: pytest.MonkeyPatch) -> None:
    points = [_point(monkeypatch, name, _pack(rule(), name=name)) for name in ("b", "a", "c")]
    for order in (points, points[::-1]):
        loaded, _packs = load_packs(Fence, order)
        assert loaded.packs == {"post/too-short": "a"}
        assert [failure.evidence["pack"] for failure in loaded.failures] == ["b", "c"]


def test_families_are_shared_by_packs(monkeypatch: pytest.MonkeyPatch) -> None:
    alone = Pack("gates", (rule("gate/open"),), frozenset({"gate"}))
    guest = Pack("more gates", (rule("gate/shut"),))
    points = [_point(monkeypatch, "guest", guest), _point(monkeypatch, "host", alone)]
    loaded, _packs = load_packs(Fence, points)
    assert [r.id for r in loaded] == ["gate/open", "gate/shut"]
    assert not loaded.failures


def test_a_module_that_fails_while_it_is_imported(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "toy_that_breaks.py").write_text("PACK = 1 / 0\n", encoding="utf-8")
    monkeypatch.syspath_prepend(tmp_path)
    loaded, packs = load_packs(Fence, [EntryPoint("breaks", "toy_that_breaks:PACK", "ventrules.rules")])
    assert packs == []
    (failure,) = loaded.failures
    assert failure.evidence == {"pack": "breaks", "reason": "ZeroDivisionError: division by zero"}


@pytest.mark.parametrize("value", ["toy_module_that_is_nowhere:PACK", "json:NO_SUCH_NAME", "json:decoder.nothing"])
def test_a_pack_that_cannot_be_imported_is_named_and_harms_no_other(
    monkeypatch: pytest.MonkeyPatch, value: str
) -> None:
    broken = EntryPoint("broken", value, "ventrules.rules")
    loaded, packs = load_packs(Fence, [broken, _point(monkeypatch, "good", _pack(rule(), name="good"))])
    assert [pack.name for pack in packs] == ["good"]
    assert ["broken" in failure.message for failure in loaded.failures] == [True]
    assert not report(run(loaded, Fence(()))).ok


def test_without_any_pack_nothing_runs_and_it_is_said() -> None:
    loaded, packs = load_packs(Fence, [])
    assert packs == []
    assert [finding.rule for finding in run(loaded, FENCE)] == ["engine/no-rule-run"]
