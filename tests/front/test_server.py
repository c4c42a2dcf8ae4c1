"""A service that judges: one rulebook, sixteen threads, and each answer the one that is given alone."""

from __future__ import annotations

import json
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from datetime import date
from http.client import HTTPConnection
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from threading import Thread
from typing import Any

from judging import rulebook

import checker
from checker import Rulebook

DAY = date(2026, 6, 1)
THREADS = 16


def asked(number: int) -> dict[str, Any]:
    """A record of an engine; each a little different, some for another use, one of them wrong."""
    return {
        "assembly": f"Engine {number}",
        "application": ("street-performance", "drag", "marine")[number % 3],
        "units": {"length": "in"},
        "stations": {"main": 3 + number % 3, "cylinder": 4},
        "readings": {
            "main_journal_diameter": [2.4490] * 3,
            "main_bearing_bore": [2.4515, 2.4515 + number * 1e-4, "2.4512 in"],
            "top_ring_gap": {"1": 0.016, "2": 0.010 + number * 1e-3},
            **({"top_ring_gp": 1} if number == 7 else {}),
        },
    }


def answered(book: Rulebook, data: dict[str, Any]) -> str:
    """What the service says."""
    try:
        return checker.write_json(book.check(checker.record_from(data), on=DAY), ["within", "readings"])
    except checker.InputError as error:
        return json.dumps([str(problem) for problem in error.problems])


@contextmanager
def service(book: Rulebook) -> Iterator[int]:
    """A server on this machine; its port."""

    class Handler(BaseHTTPRequestHandler):
        def do_POST(self) -> None:
            data = json.loads(self.rfile.read(int(self.headers["Content-Length"])))
            said = answered(book, data).encode()
            self.send_response(200)
            self.send_header("Content-Length", str(len(said)))
            self.end_headers()
            self.wfile.write(said)

        def log_message(self, format: str, *given: Any) -> None:
            """Say nothing."""

    class Server(ThreadingHTTPServer):
        request_queue_size = 2 * THREADS

    server = Server(("127.0.0.1", 0), Handler)
    running = Thread(target=server.serve_forever)
    running.start()
    try:
        yield server.server_address[1]
    finally:
        server.shutdown()
        running.join()
        server.server_close()


def posted(port: int, data: dict[str, Any]) -> str:
    connection = HTTPConnection("127.0.0.1", port, timeout=120)
    connection.request("POST", "/", json.dumps(data))
    said = connection.getresponse().read().decode()
    connection.close()
    return said


def test_sixteen_threads_get_what_each_would_get_alone() -> None:
    """A rulebook that nobody has used yet: what is compiled on the way belongs to all of them."""
    numbers = [number % 12 for number in range(2 * THREADS)]
    with service(checker.load_rulebook("four-stroke")) as port, ThreadPoolExecutor(THREADS) as threads:
        found = list(threads.map(lambda number: posted(port, asked(number)), numbers))
    alone = {number: answered(rulebook("four-stroke"), asked(number)) for number in set(numbers)}
    assert found == [alone[number] for number in numbers]
    assert "unknown characteristic" in alone[7]


def test_many_are_judged_one_after_another_though_one_cannot_be() -> None:
    book = rulebook("four-stroke")
    reports = book.check_many((checker.record_from(asked(number)) for number in (6, 7, 8)), on=DAY)
    assert next(reports).record.assembly == "Engine 6"
    try:
        next(reports)
    except checker.InputError as error:
        assert "top_ring_gp" in str(error)
    assert checker.write_json(next(reports)) == checker.write_json(book.check(checker.record_from(asked(8)), on=DAY))


def test_some_rules_say_what_all_of_them_say() -> None:
    book = rulebook("four-stroke")
    record = checker.record_from(asked(4))
    some = book.only("main-oil-clearance", "top-ring-gap").check(record, on=DAY)
    whole = {one.rule.name: one for one in book.check(record, on=DAY).judged}
    assert [one.rule.name for one in some.judged] == [
        name for name in whole if name in ("main-oil-clearance", "top-ring-gap")
    ]
    for one in some.judged:
        assert one.codes.tolist() == whole[one.rule.name].codes.tolist()
