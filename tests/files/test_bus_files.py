"""Bus profiles as files: the packaged ones hold the published figures, and broken ones are refused at their line."""

import re
from typing import Final

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.files.samples import CATALOG
from ventrules.files import DataFileError, JobFileError, load_bus_profile, packaged_catalog, parse_bus_profile
from ventrules.files import parse_catalog as read
from ventrules.files.resources import bus_profile_names, packaged
from ventrules.files.shapes import structure, unstructure
from ventrules.job import BusProfile, Layout
from ventrules.sources import Known


def text_of(name: str) -> str:
    return packaged("buses", f"{name}.toml").read_text(encoding="utf-8")


def test_the_guide_and_the_standard_are_packaged() -> None:
    assert bus_profile_names() == ("serial-line-1.02", "tia-485-a")


def test_the_guide_has_its_published_figures() -> None:
    """MODBUS over Serial Line V1.02, clause by clause."""
    guide = load_bus_profile("serial-line-1.02")
    assert (guide.layout, guide.trunk is not None, guide.stubs is not None) == (Layout.STUBS, True, True)
    assert guide.trunk is not None
    assert (guide.trunk.longest.m, str(guide.trunk.thinnest)) == (1000.0, "26 AWG")  # 3.4.3
    assert guide.stubs is not None
    assert guide.stubs.shared is not None
    assert (guide.stubs.longest.m, guide.stubs.shared.m) == (20.0, 40.0)  # 3.4.3
    assert guide.loads is not None
    assert (guide.loads.devices, guide.loads.unit_loads) == (32, None)  # 3.4.1
    termination, bias = guide.termination, guide.bias
    assert termination is not None
    assert (termination.least, termination.most) == (2, 2)  # 3.4.5
    assert (termination.lowest.ohm, termination.highest.ohm) == (120.0, 150.0)  # 3.4.5
    assert bias is not None
    assert (bias.least, bias.most, bias.takes_devices) == (0, 1, 4)  # 3.4.6
    assert (bias.lowest.ohm, bias.highest.ohm) == (450.0, 650.0)  # 3.4.6
    assert guide.addresses is not None
    assert (guide.addresses.lowest, guide.addresses.highest, guide.addresses.bridges) == (1, 247, False)  # 2.2
    assert guide.shield is not None
    assert (guide.shield.least, guide.shield.most) == (1, 1)  # 3.4.4, 3.6


def test_the_standard_has_its_published_figures() -> None:
    """TIA-485-A: 32 unit loads; 4000 ft as guidance. The rest is practice."""
    standard = load_bus_profile("tia-485-a")
    assert standard.layout is Layout.LINE
    assert standard.trunk is not None
    assert standard.trunk.longest.m == pytest.approx(1219.2)
    assert standard.loads is not None
    assert (standard.loads.unit_loads, standard.loads.devices) == (32.0, None)
    assert standard.termination is not None
    assert standard.termination.lowest.ohm <= 120.0 <= standard.termination.highest.ohm
    assert standard.addresses is None


@pytest.mark.parametrize("name", bus_profile_names())
def test_every_part_of_a_packaged_profile_names_its_source(name: str) -> None:
    profile = load_bus_profile(name)
    parts = (profile.trunk, profile.stubs, profile.loads, profile.termination, profile.bias, profile.shield)
    bases = [profile.basis, profile.layout_basis, *(part.basis for part in parts if part is not None)]
    if profile.addresses is not None:
        bases.append(profile.addresses.basis)
    assert all(basis is not None and (basis.clause or basis.known is not Known.SEEN) for basis in bases[1:])
    assert None not in bases


@pytest.mark.parametrize("name", bus_profile_names())
def test_a_profile_survives_being_written_and_read(name: str) -> None:
    profile = load_bus_profile(name)
    assert structure(unstructure(profile), BusProfile) == profile


@pytest.mark.parametrize("profile", packaged_catalog("demo").profiles.values(), ids=lambda profile: profile.title)
def test_a_catalog_s_profile_survives_being_written_and_read(profile: BusProfile) -> None:
    assert structure(unstructure(profile), BusProfile) == profile


BROKEN: Final = {
    "no version": ("ventrules-bus = 1\n", "", "expected `ventrules-bus = 1`"),
    "another version": ("ventrules-bus = 1\n", "ventrules-bus = 2\n", "expected `ventrules-bus = 1`"),
    "broken syntax": ("[trunk]", "[trunk", "not valid TOML"),
    "a length without a unit": ('longest = "1000 m"', "▸longest = 1000", "trunk / longest: "),
    "a layout that is none": ('layout = "line-with-stubs"', '▸layout = "ring"', "layout: "),
    "most below least": ("most = 2\nlowest", "▸most = 1\nlowest", "termination / most: expected `least` at most"),
    "values upside down": ('highest = "150 ohm"', '▸highest = "100 ohm"', "termination / highest: expected `lowest`"),
    "an unusual usual": ('usual = "150 ohm"', '▸usual = "60 ohm"', "termination / usual: expected `usual` between"),
    "three ends": ("least = 2\nmost = 2", "least = 2\n▸most = 3", "termination / most: a line has two ends"),
    "stubs on a line": ('layout = "line-with-stubs"', 'layout = "line"', "stubs: stubs are for the layout"),
    "shared too short": ('shared = "40 m"', '▸shared = "19 m"', "stubs / shared: expected `shared` no shorter"),
    "less than the longest": (
        'thinnest = "26 AWG"',
        'thinnest = "26 AWG"\n▸together = "900 m"',
        "trunk / together: expected `together` no shorter",
    ),
    "addresses upside down": ("highest = 247", "▸highest = 0", "addresses / highest: expected `lowest` at most"),
    "shield upside down": ("[shield]\nleast = 1", "[shield]\nleast = 2", "shield / most: expected `least` at most"),
    "loads of nothing": ("devices = 32\n", "", "loads: expected `unit_loads`, `devices` or both"),
    "a bus of one": ("devices = 32\n", "▸devices = 1\n", "loads / devices: a bus joins 2 devices at least"),
    "bias that takes all": ("takes_devices = 4", "▸takes_devices = 31", "bias / takes_devices: of 32 devices too few"),
}  # fmt: skip


@pytest.mark.parametrize("name", BROKEN)
def test_a_broken_profile_is_refused_with_its_line(name: str) -> None:
    old, new, said = BROKEN[name]
    sound = text_of("serial-line-1.02")
    assert old in sound
    marked = sound.replace(old, new, 1)
    with pytest.raises(DataFileError, match=re.escape(said)) as caught:
        parse_bus_profile(marked.replace("▸", ""), "lane.toml")
    if "▸" in marked:
        line = marked[: marked.index("▸")].count("\n") + 1
        assert f"lane.toml:{line}:1: {said}" in str(caught.value)
    assert str(caught.value).startswith("lane.toml:")


def test_a_misspelled_key_is_placed_and_answered() -> None:
    text = text_of("serial-line-1.02").replace('thinnest = "26 AWG"', 'thinest = "26 AWG"')
    with pytest.raises(DataFileError, match=r"lane\.toml:\d+:1: trunk / thinest: .*thinnest"):
        parse_bus_profile(text, "lane.toml")


def test_every_problem_is_listed() -> None:
    text = (
        text_of("serial-line-1.02").replace("highest = 247", "highest = 0").replace('shared = "40 m"', 'shared = "1 m"')
    )
    with pytest.raises(DataFileError) as caught:
        parse_bus_profile(text, "lane.toml")
    assert len(str(caught.value).splitlines()) == 2


def test_an_unknown_profile_is_answered_with_the_nearest() -> None:
    with pytest.raises(DataFileError, match=r"unknown bus profile 'tia-485'; nearest is 'tia-485-a'"):
        load_bus_profile("tia-485")


@given(st.integers(0, 400))
def test_a_profile_cut_off_anywhere_is_read_or_refused(cut: int) -> None:
    text = text_of("tia-485-a")[:cut]
    try:
        profile = parse_bus_profile(text, "lane.toml")
    except DataFileError as error:
        refused = str(error)
    else:
        refused = "" if profile.title in text else "made up"
    assert refused == "" or refused.startswith("lane.toml")


OWN: Final = CATALOG.replace(
    "models:",
    """profiles:
  lane:
    title: Lane line
    layout: line-with-stubs
    trunk: {longest: 80 m, thinnest: 22 AWG, together: 90 m}
    stubs: {longest: 5 m, shared: 8 m}
    loads: {devices: 8}
    bias: {least: 1, most: 1, lowest: 500 ohm, highest: 600 ohm, usual: 510 ohm, takes_devices: 2}
models:""",
)
IN_CATALOG: Final = {
    "layout": ("layout: line-with-stubs", "layout: ▸zigzag", "line-with-stubs"),
    "together": ("together: 90 m", "together: ▸70 m", "expected `together` no shorter"),
    "shared": ("shared: 8 m", "shared: ▸4 m", "expected `shared` no shorter"),
    "devices": ("devices: 8", "devices: ▸0", "a bus joins 2 devices at least"),
    "usual": ("usual: 510 ohm", "usual: ▸800 ohm", "between `lowest` and `highest`"),
    "takes": ("takes_devices: 2", "takes_devices: ▸7", "too few are left"),
    "value": ("lowest: 500 ohm", "lowest: ▸500 m", "unknown unit"),
}  # fmt: skip


def test_a_catalog_s_own_profile_is_read() -> None:
    bias = read(OWN, "lane.yaml").profiles["lane"].bias
    assert bias is not None
    assert str(bias.usual) == "510 ohm"


@pytest.mark.parametrize("name", IN_CATALOG)
def test_what_is_wrong_with_a_catalog_s_profile_is_said_at_its_place(name: str) -> None:
    old, new, said = IN_CATALOG[name]
    assert OWN.count(old) == 1
    marked = OWN.replace(old, new)
    before = marked[: marked.index("▸")]
    with pytest.raises(JobFileError) as caught:
        read(marked.replace("▸", ""), "lane.yaml")
    (problem,) = caught.value.problems
    assert said in problem.message
    column = len(before) - (before.rfind("\n") + 1) + 1
    assert str(problem.position) == f"lane.yaml:{before.count(chr(10)) + 1}:{column}"
