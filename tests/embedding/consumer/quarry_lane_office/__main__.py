"""One day at the office: `python -m quarry_lane_office FOLDER`, the folder that holds the saved jobs."""

import sys
from pathlib import Path

import ventrules

from . import desk, lane_rules
from .table import Table, for_the_portal, refusal


def main(folder: Path) -> None:
    airless, sound = folder / "faulty" / "too-little-air-in-winter.yaml", folder / "sound" / "number-29.yaml"
    table = Table()
    table.add(7, airless)
    table.add(29, sound)
    print(table.check(), len(table.known(7)), len(table.known(29)))
    print(len(refusal("ventrules: 1")) > 0, refusal(sound.read_text(encoding="utf-8")))
    job = ventrules.read_job(airless)
    (finding,) = ventrules.check(job, registry=desk.air_only()).findings
    print(finding.rule, sorted(desk.figures(finding)), len(desk.edits(finding)))
    print(desk.mended(airless)[1] == [finding.remedy.title] if finding.remedy else "no remedy")
    print(ventrules.check(desk.one_remedy(job)).ok, finding.rule in for_the_portal(job), desk.sure(finding.basis))
    print(desk.minutes(job)["day", "ventilator"])
    print(len(desk.suspects(job, "ventilator")) > 0, desk.airless_hours(job), len(desk.asked(job)) > 5)
    print([found.rule for found in ventrules.check(job, registry=lane_rules.RULES).findings])
    print(desk.at_once([airless, sound, folder / "nowhere.yaml"]))


main(Path(sys.argv[1]))
