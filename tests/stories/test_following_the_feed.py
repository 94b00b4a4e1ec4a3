"""A till that only follows the feed holds what a full read gives: after two hundred writes by four writers, two dates
that roll over, and a worker that is killed on the way. `SEAMCOST_FEED_WRITES=5000` is the long run, by hand."""

import os
import signal
import time
from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta

import pytest

from tests.stories.feed_followers import Follower, full_read
from tests.stories.random_writes import TAKEN, Writer
from tests.stories.running_service import WEDNESDAY, RunningService

WRITES, WRITERS, DAYS = int(os.environ.get("SEAMCOST_FEED_WRITES", "200")), 4, 3


@pytest.mark.timeout(900)
def test_whoever_only_follows_the_feed_holds_what_a_full_read_gives(service_of_three: RunningService) -> None:
    service = service_of_three
    followers = [Follower(service.client(scope), wait=2) for scope in ("read", "costs:read")]
    writers = [Writer(service.address, service.client("admin").key, seed) for seed in range(WRITERS)]
    with ThreadPoolExecutor(WRITERS + len(followers)) as threads:
        following = [threads.submit(follower.keep_following) for follower in followers]
        for day in range(DAYS):
            service.move_to(WEDNESDAY + timedelta(days=day))
            for writer in writers:
                writer.today = WEDNESDAY + timedelta(days=day)
            writing = [threads.submit(writer.write, -(-WRITES // DAYS // WRITERS)) for writer in writers]
            if day == 1:
                _kill_a_worker(service)
            for one in writing:
                one.result(timeout=300)
        for follower in followers:
            follower.stop.set()
        for one in following:
            one.result(timeout=120)
    assert sum(writer.came[status] for writer in writers for status in TAKEN) >= WRITES
    for follower in followers:
        follower.drain()
        assert follower.menu == full_read(follower.client)
    service.move_to(WEDNESDAY + timedelta(days=DAYS + 1))
    for follower in followers:
        assert {change["moved_by"] for change in follower.drain()} == {"date"}
        assert follower.menu == full_read(follower.client)


def _kill_a_worker(service: RunningService) -> None:
    """Kill one while the writers write, and see it replaced."""
    time.sleep(0.5)
    victim = service.worker_processes()[0]
    os.kill(victim, signal.SIGKILL)
    until = time.monotonic() + 60
    while victim in service.worker_processes() or service.workers < 3:
        assert time.monotonic() < until, "the worker was not replaced"
        time.sleep(0.1)
