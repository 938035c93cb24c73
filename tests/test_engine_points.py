"""A look at the folders of `sys.path` finds the packs that `importlib.metadata` finds, whatever is installed there."""

import sys
import zipfile
from collections.abc import Callable, Iterator
from importlib.machinery import PathFinder
from importlib.metadata import MetadataPathFinder, entry_points
from pathlib import Path
from typing import Final

import pytest

from ventrules.engine.points import GROUP, OWN, installed_points

OURS: Final = f"[{GROUP}]\n{OWN.name} = {OWN.value}\n"
LANE: Final = f"[{GROUP}]\nlane = lane_rules:PACK\n"


def both() -> tuple[set[tuple[str, str]], set[tuple[str, str]]]:
    """What is found here, and by `importlib.metadata`."""
    here = {(point.name, point.value) for point in installed_points()}
    return here, {(point.name, point.value) for point in entry_points(group=GROUP)}


def info(folder: Path, name: str, points: str | None) -> Path:
    made = folder / name
    made.mkdir(parents=True)
    (made / "METADATA").write_text(f"Metadata-Version: 2.1\nName: {name.partition('-')[0]}\nVersion: 1\n")
    if points is not None:
        (made / "entry_points.txt").write_text(points)
    return made


@pytest.fixture
def site(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder that is all of `sys.path`, with our distribution in it."""
    folder = tmp_path / "site"
    info(folder, "ventrules-1.dist-info", f"[console_scripts]\nventrules = ventrules.cli:main\n\n{OURS}")
    info(folder, "plain-1.dist-info", None)
    monkeypatch.setattr(sys, "path", [str(folder)])
    # What another test has imported may have put its own finder in the place of Python's.
    others = [finder for finder in sys.meta_path if not hasattr(finder, "find_distributions")]
    monkeypatch.setattr(sys, "meta_path", [*(finder for finder in others if finder is not PathFinder), PathFinder])
    monkeypatch.setattr(
        PathFinder, "find_distributions", staticmethod(MetadataPathFinder.find_distributions), raising=False
    )
    return folder


def test_as_installed_our_pack_is_found_by_both() -> None:
    here, there = both()
    assert here == there
    assert (OWN.name, OWN.value) in here
    assert OWN.load() is not None


def test_our_pack_alone_is_found_without_asking_for_every_distribution(
    site: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def never(**_given: object) -> None:
        raise AssertionError(site)

    monkeypatch.setattr("importlib.metadata.entry_points", never)
    assert list(installed_points()) == [OWN]


def _another_pack(site: Path) -> None:
    info(site, "lane_rules-1.dist-info", LANE)


def _another_pack_as_an_egg_info(site: Path) -> None:
    info(site, "lane_rules.egg-info", LANE)


def _another_pack_in_an_egg(site: Path) -> None:
    egg = site.parent / "lane_rules-1-py3.egg"
    info(egg, "EGG-INFO", LANE)
    sys.path.append(str(egg))


def _another_pack_in_an_archive(site: Path) -> None:
    archive = site.parent / "lane.zip"
    with zipfile.ZipFile(archive, "w") as file:
        file.writestr("lane_rules-1.dist-info/METADATA", "Metadata-Version: 2.1\nName: lane_rules\nVersion: 1\n")
        file.writestr("lane_rules-1.dist-info/entry_points.txt", LANE)
    sys.path.append(str(archive))


def _two_points_of_ours(site: Path) -> None:
    (site / "ventrules-1.dist-info" / "entry_points.txt").write_text(f"{OURS}more = ventrules.rules:PACK\n")


def _our_point_named_otherwise(site: Path) -> None:
    (site / "ventrules-1.dist-info" / "entry_points.txt").write_text(f"[{GROUP}]\nother = ventrules.rules:PACK\n")


def _our_section_twice(site: Path) -> None:
    (site / "ventrules-1.dist-info" / "entry_points.txt").write_text(f"{OURS}[other]\na = b\n{OURS}")


def _ours_hidden_by_an_earlier_one(site: Path) -> None:
    earlier = site.parent / "earlier"
    info(earlier, "Ventrules-0.dist-info", None)
    sys.path.insert(0, str(earlier))


def _nothing_of_ours(site: Path) -> None:
    (site / "ventrules-1.dist-info" / "entry_points.txt").unlink()


def _a_folder_that_is_not_there(site: Path) -> None:
    sys.path.append(str(site / "nowhere"))


def _the_working_folder(site: Path) -> None:
    info(site.parent / "work", "lane_rules-1.dist-info", LANE)
    sys.path.insert(0, "")


def _odd_names(site: Path) -> None:
    (site / "file.egg-info").write_text("Name: file\nVersion: 1\n")
    info(site, "ventrules_more-1.dist-info", "[console_scripts]\nmore = more:main\n")


@pytest.mark.parametrize(
    "change",
    [
        _another_pack,
        _another_pack_as_an_egg_info,
        _another_pack_in_an_egg,
        _another_pack_in_an_archive,
        _two_points_of_ours,
        _our_point_named_otherwise,
        _our_section_twice,
        _ours_hidden_by_an_earlier_one,
        _nothing_of_ours,
        _a_folder_that_is_not_there,
        _the_working_folder,
        _odd_names,
    ],
    ids=lambda change: change.__name__.strip("_").replace("_", " "),
)
def test_both_find_the_same(site: Path, change: Callable[[Path], None], monkeypatch: pytest.MonkeyPatch) -> None:
    (site.parent / "work").mkdir(exist_ok=True)
    monkeypatch.chdir(site.parent / "work")
    change(site)
    here, there = both()
    assert here == there


def test_a_finder_of_another_kind_is_asked(site: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    class Finder:
        @staticmethod
        def find_spec(*_given: object) -> None:
            return None

        @staticmethod
        def find_distributions(*_given: object) -> Iterator[object]:
            from importlib.metadata import PathDistribution

            yield PathDistribution(info(site.parent / "elsewhere", "lane_rules-1.dist-info", LANE))

    monkeypatch.setattr(sys, "meta_path", [*sys.meta_path, Finder])
    assert {point.name for point in installed_points()} == {"lane", OWN.name}
