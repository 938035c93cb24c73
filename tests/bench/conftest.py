"""After a benchmark run: the figures as ratios, all from the same run."""

import math
from collections.abc import Iterator, Mapping

import pytest

BASE = {
    "one job of six devices": ("test_json_loads", "test_jsonschema_on_the_structure_alone"),
    "one dwelling under every code": ("test_plain_one_minute_loop",),
    **{
        f"planning a week: {case}": (f"test_every_setting_walked[{case}]",)
        for case in ("factors", "average", "exposure")
    },
}


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter, config: pytest.Config) -> None:
    session = getattr(config, "_benchmarksession", None)
    medians = {
        bench.name: (bench.group, bench.stats.median)
        for bench in getattr(session, "benchmarks", ())
        if bench.stats.rounds
    }
    if not medians:
        return
    terminalreporter.section("ratios of medians, one run")
    for line in (*_ratios(medians), *_slope(medians)):
        terminalreporter.write_line(line)


def _ratios(medians: Mapping[str, tuple[str, float]]) -> Iterator[str]:
    for name, (group, median) in medians.items():
        said = [_against(median / medians[base][1], base) for base in BASE.get(group, ()) if base in medians]
        yield f"{name}: {median * 1e3:.3f} ms" + (f" = {' = '.join(said)}" if said else "")


def _against(ratio: float, base: str) -> str:
    return f"{ratio:.2f} x {base}" if ratio >= 0.1 else f"1/{1.0 / ratio:.1f} of {base}"


def _slope(medians: Mapping[str, tuple[str, float]]) -> Iterator[str]:
    """Yield how the logarithm of time grows with that of size: the last parameter of a test whose group grows."""
    growing: dict[str, list[tuple[float, float]]] = {}
    for name, (group, median) in medians.items():
        if group.startswith("growth"):
            size = int(name.rstrip("]").replace("[", "-").rpartition("-")[2])
            growing.setdefault(group, []).append((math.log(size), math.log(median)))
    for group, points in growing.items():
        if len(points) > 1:
            mean_x, mean_y = (sum(axis) / len(points) for axis in zip(*points, strict=True))
            rise = sum((x - mean_x) * (y - mean_y) for x, y in points)
            (x0, y0), (x1, y1) = points[-2:]
            yield (
                f"{group}: log-log slope over all sizes {rise / sum((x - mean_x) ** 2 for x, _y in points):.3f}, "
                f"between the two largest {(y1 - y0) / (x1 - x0):.3f}"
            )
