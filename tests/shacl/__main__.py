"""`python -m tests.shacl --jobs 2000`: compares rules and shapes on many jobs, and counts what was found."""

import argparse
import sys
from collections import Counter

from hypothesis import HealthCheck, Phase, given, seed, settings

from tests.shacl.cases import wired_jobs
from tests.shacl.oracle import compared, ours_say, rule_ids, shacl_says, single_routes
from ventrules import Job
from ventrules.files import job_yaml


def main() -> int:
    """Compare; return 1 where the two differ."""
    parser = argparse.ArgumentParser(prog="python -m tests.shacl", description=__doc__)
    parser.add_argument("--jobs", type=int, default=2000, help="how many jobs to compare")
    parser.add_argument("--seed", type=int, default=1, help="another number brings other jobs")
    asked = parser.parse_args()
    found: Counter[str] = Counter()
    differing: list[Job] = []

    @seed(asked.seed)
    @settings(
        max_examples=asked.jobs,
        database=None,
        deadline=None,
        phases=[Phase.generate],
        suppress_health_check=list(HealthCheck),
    )
    @given(wired_jobs())
    def compare(job: Job) -> None:
        ours, theirs = ours_say(job), shacl_says(job)
        routes = single_routes(ours)
        found.update({rule for rule, _place in ours})
        found.update(["jobs", "jobs without a finding"] if not ours else ["jobs"])
        found["jobs with one route at most"] += routes
        if compared(ours, routes=routes) != compared(theirs, routes=routes):
            differing.append(job)
            sys.stdout.write(f"ours alone: {ours - theirs}\nshapes alone: {theirs - ours}\n{job_yaml(job)}\n")

    compare()
    for name, count in sorted(found.items()):
        sys.stdout.write(f"{count:6} {name}\n")
    never = sorted(rule_ids() - {name.partition(" ")[0] for name in found})
    sys.stdout.write(f"{len(differing)} jobs differ. Never found: {', '.join(never) or 'none'}.\n")
    return 1 if differing else 0


sys.exit(main())
