"""A real cluster of worker processes on this machine, which is used as one of many machines is."""

import warnings
from collections.abc import Iterator
from concurrent.futures import Executor
from pathlib import Path

import pytest

from tests.bulk.street import as_lines, texts
from ventrules import check_many
from ventrules.bulk import job_lines

distributed = pytest.importorskip("distributed", reason="the extra ventrules[cluster] is not installed")


@pytest.fixture(scope="module")
def executor() -> Iterator[Executor]:
    with warnings.catch_warnings():
        warnings.simplefilter("default")  # what the cluster's own libraries warn of is not ours
        cluster = distributed.LocalCluster(
            n_workers=2, threads_per_worker=1, processes=True, host="127.0.0.1", dashboard_address="127.0.0.1:0"
        )
        with cluster, distributed.Client(cluster) as client, client.get_executor() as found:
            yield found


@pytest.mark.filterwarnings("default")
def test_a_cluster_gives_what_is_given_here(executor: Executor, tmp_path: Path) -> None:
    path = as_lines(tmp_path / "lane.jsonl", texts(60))
    expected = list(check_many(job_lines(path)))
    assert {outcome.report is None for outcome in expected} == {True, False}
    for batch in (7, 60):
        assert list(check_many(job_lines(path), executor=executor, batch=batch)) == expected


@pytest.mark.filterwarnings("default")
def test_a_stream_on_a_cluster_can_be_left(executor: Executor, tmp_path: Path) -> None:
    path = as_lines(tmp_path / "lane.jsonl", texts(40))
    outcomes = check_many(job_lines(path), executor=executor, batch=2, ahead=4)
    assert next(outcomes) == next(check_many(job_lines(path)))
    del outcomes
    assert list(check_many(job_lines(path), executor=executor)) == list(check_many(job_lines(path)))
