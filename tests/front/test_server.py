"""A service that judges: one rulebook, sixteen threads, and each answer the one that is given alone."""

from __future__ import annotations

import asyncio
import json
from concurrent.futures import ThreadPoolExecutor
from datetime import date
from typing import Any

import httpx
from judging import rulebook
from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

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


def service(book: Rulebook, threads: ThreadPoolExecutor) -> Starlette:
    """A server of one rulebook; each answer is worked out in a thread of its own."""

    async def judge(request: Request) -> Response:
        data = await request.json()
        said = await asyncio.get_running_loop().run_in_executor(threads, answered, book, data)
        return Response(said, media_type="application/json")

    return Starlette(routes=[Route("/", judge, methods=["POST"])])


async def posted(app: Starlette, numbers: list[int]) -> list[str]:
    """What it says of records that are all sent at once."""
    async with httpx.AsyncClient(transport=httpx.ASGITransport(app), base_url="http://shop") as client:
        answers = await asyncio.gather(*(client.post("/", json=asked(number)) for number in numbers))
    return [answer.text for answer in answers]


def test_sixteen_threads_get_what_each_would_get_alone() -> None:
    """A rulebook that nobody has used yet: what is compiled on the way belongs to all of them."""
    numbers = [number % 12 for number in range(2 * THREADS)]
    with ThreadPoolExecutor(THREADS) as threads:
        found = asyncio.run(posted(service(checker.load_rulebook("four-stroke"), threads), numbers))
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
