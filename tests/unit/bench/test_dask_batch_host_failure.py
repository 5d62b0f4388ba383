"""Batches over a scheduler and two workers with network addresses of their own, one of which is cut off."""

from __future__ import annotations

import pytest

from robustness.hosts import dask_batch_host_failure, network_namespaces
from robustness.hosts.dask_batch_host_failure import bench_batches
from robustness.hosts.network_namespaces import NoNamespaces, private_namespaces


@pytest.mark.slow
@pytest.mark.timeout(900)
def test_a_host_cut_off_in_the_middle_changes_nothing() -> None:
    told = bench_batches(seed=20261130, film_s=8.0)
    if told["hosts"] != "tried":
        pytest.skip(told["hosts"])  # says what would wake it
    copies, reports, rallies = (told["batches"][name] for name in ("copies", "reports", "rallies"))
    assert copies["pieces"] == reports["pieces"] == rallies["pieces"] == 6
    for batch in (copies, reports):  # the host cut off was at a piece, and another host began it again
        assert batch["repeated"] >= 1
        assert batch["again_after_s"] > 0
    assert copies["done_twice"] >= 1, "the host cut off made its copy all the same"
    assert told["identical"]
    assert told["files_equal"]
    assert told["store_equal"]
    assert told["half_written"] == 0


def test_where_hosts_cannot_be_made_it_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    def none() -> tuple[str, ...]:
        raise NoNamespaces("not allowed")

    monkeypatch.setattr(dask_batch_host_failure, "private_namespaces", none)
    told = bench_batches(seed=1)
    assert told["hosts"].startswith("Hosts of their own cannot be made here: not allowed. Wanted: Linux with")
    assert told["batches"] == {}
    monkeypatch.setattr(network_namespaces.sys, "platform", "darwin")
    with pytest.raises(NoNamespaces, match="this is darwin"):
        private_namespaces()
