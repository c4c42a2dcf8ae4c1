"""A folder of results that fills part by part, and can be gone on with after a kill.

Each part is written to hidden files that take their names when all is in them; the line about it in `parts` comes last.
So a part that was judged twice, as after a worker was lost, is there once.
"""

from __future__ import annotations

import json
import re
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from contextlib import ExitStack, contextmanager, suppress
from functools import reduce
from pathlib import Path
from typing import Any, NamedTuple

import pyarrow.compute as pc
import pyarrow.parquet

from checker.documents.document import read_bytes
from checker.documents.locking import held
from checker.documents.replacing import replacing, write_atomically
from checker.errors import InputError, Place, Problem, UsageError
from checker.fleet.judging import Told, told_of
from checker.fleet.parts import Part
from checker.fleet.plan import Plan
from checker.frozen import FrozenMapping
from checker.judging.judge import AMISS

TABLES = ("findings", "counts", "set-aside")
"""The folders of Parquet files, a file for each part."""
HEAD, PARTS, LOCK = "run.json", "parts", ".lock"
_SIZES = "bytes"
SUMMARIES = ("summary.txt", "summary.json", "set-aside.csv")
_WHOLE, _HALF = (re.compile(name) for name in (r"\d{6}\.(parquet|json)", r"\.\d{6}\.(parquet|json)\.[0-9a-f]{8}"))
MOST_REASONS = 20
"""So many different reasons are told of each part; the tables have them all."""
OTHERS = "other reasons"


class Totals(NamedTuple):
    """What came of some rows: of each status how many assemblies, of each rule and verdict how many findings.

    `refused` are the readings that are not possible as written, `failed` says how functions did, in how many
    assemblies each.
    """

    read: int
    judged: int
    set_aside: int
    statuses: Mapping[str, int]
    findings: Mapping[str, int]
    reasons: Mapping[str, int]
    refused: int = 0
    failed: Mapping[str, int] = FrozenMapping()

    def plus(self, other: Totals) -> Totals:
        """What came of these rows and others."""
        both = zip((*self[3:6], self.failed), (*other[3:6], other.failed), strict=True)
        statuses, findings, reasons, failed = (dict(Counter(mine) + Counter(others)) for mine, others in both)
        rows = self.read + other.read, self.judged + other.judged, self.set_aside + other.set_aside
        return Totals(*rows, statuses, findings, reasons, self.refused + other.refused, failed)


NOTHING = Totals(0, 0, 0, {}, {}, {})


def judge_part(plan: Plan, part: Part, folder: Path) -> Totals:
    """Judge a part, write what is said of it, and say how much it was; what is there already is only read.

    Raises InputError where the part cannot be read or judged, UsageError where the folder cannot be written to.
    """
    try:
        return done_of(part, folder) or _judged(plan, part, folder)
    except OSError as error:
        hint = "workers must see the same files"
        raise UsageError(Problem(f"cannot write to {folder}: {error.strerror or error}", hint=hint)) from error


def _judged(plan: Plan, part: Part, folder: Path) -> Totals:
    totals = NOTHING
    with ExitStack() as stack:
        writers: dict[str, Any] = {}
        for piece in told_of(plan, part, AMISS):
            for name, table in zip(TABLES, piece[:3], strict=True):
                if name not in writers:
                    path = stack.enter_context(replacing(_table_of(part, folder, name)))
                    writers[name] = stack.enter_context(pyarrow.parquet.ParquetWriter(path, table.schema))
                writers[name].write_table(table)
            totals = totals.plus(_totals(piece))
    note = {**totals._asdict(), _SIZES: _sizes_of(part, folder)}
    write_atomically(_note_of(part, folder), json.dumps(note, ensure_ascii=False).encode())
    return totals


def done_of(part: Part, folder: Path) -> Totals | None:
    """What came of a part, if it was finished and its files are still as long as they were then."""
    path = _note_of(part, folder)
    if not path.exists():
        return None
    note = json.loads(path.read_bytes())
    return Totals(**note) if note.pop(_SIZES, None) == _sizes_of(part, folder) else None


def _sizes_of(part: Part, folder: Path) -> dict[str, int]:
    """How long the files of a part are, by the folder that they are in; one without rows has none."""
    paths = {name: _table_of(part, folder, name) for name in TABLES}
    return {name: path.stat().st_size for name, path in paths.items() if path.exists()}


def _table_of(part: Part, folder: Path, name: str) -> Path:
    return folder / name / f"{part.number:06}.parquet"


def _note_of(part: Part, folder: Path) -> Path:
    return folder / PARTS / f"{part.number:06}.json"


def _totals(told: Told) -> Totals:
    aside = told.set_aside.num_rows
    findings = told.findings.group_by(["title", "verdict"]).aggregate([([], "count_all")]).to_pylist()
    words = pc.replace_substring_regex(told.set_aside["reason"], r"\brow \d+: ", "")  # alike, whatever row it is of
    reasons = dict(Counter(words.to_pylist()).most_common(MOST_REASONS))
    if others := aside - sum(reasons.values()):
        reasons[OTHERS] = others
    return Totals(
        told.judged + aside,
        told.judged,
        aside,
        {str(line["values"]): line["counts"] for line in pc.value_counts(told.counts["status"]).to_pylist()},
        {f"{line['verdict']}: {line['title']}": line["count_all"] for line in findings},
        reasons,
        pc.sum(told.counts["refused"]).as_py() or 0,
        told.failed,
    )


@contextmanager
def prepared(output: str | Path, head: Mapping[str, Any], start_over: bool = False) -> Iterator[None]:
    """The folder of a run, new or gone on with, held so that no other run writes to it meanwhile.

    Raises UsageError where another run's results are in it, saying what differs, or anything else, or another run.
    """
    folder = Path(output)
    if head_of(folder) is None and folder.exists() and not _is_empty(folder):
        raise UsageError(Problem(f"{output} exists and is not an empty folder"))
    with ExitStack() as stack:
        try:
            folder.mkdir(parents=True, exist_ok=True)
            stack.enter_context(held(folder / LOCK, waits=False))
            before = head_of(folder)
            if before is not None and start_over:
                _remove(folder)
            elif before is not None and (odd := list(differences(before, head))):
                hint = "name another folder, or begin again with --start-over, which removes what is there"
                raise UsageError(
                    [Problem(f"{output} holds results of another run: {words}", hint=hint) for words in odd]
                )
            for name in (*TABLES, PARTS):
                (folder / name).mkdir(exist_ok=True)
            for left in _written(folder, _HALF):
                left.unlink(missing_ok=True)  # when a run was ended
            write_atomically(folder / HEAD, json.dumps(head, indent=1).encode())
        except BlockingIOError as error:
            hint = "wait until it is done, or name another folder"
            raise UsageError(Problem(f"another run is writing to {output}", hint=hint)) from error
        except OSError as error:
            raise UsageError(Problem(f"cannot write to {output}: {error.strerror}")) from error
        yield


def _is_empty(folder: Path) -> bool:
    return folder.is_dir() and all(path.name == LOCK for path in folder.iterdir())


def _written(folder: Path, *names: re.Pattern[str]) -> list[Path]:
    """The files of parts that a run wrote, by their names; what else lies there is not ours."""
    paths = (path for name in (*TABLES, PARTS) if (folder / name).is_dir() for path in (folder / name).iterdir())
    return [path for path in paths if any(name.fullmatch(path.name) for name in names)]


def _remove(folder: Path) -> None:
    """Take away all that a run wrote, and nothing else."""
    for path in [*_written(folder, _WHOLE, _HALF), *(folder / name for name in (*SUMMARIES, HEAD))]:
        path.unlink(missing_ok=True)
    for name in (*TABLES, PARTS):
        with suppress(OSError):  # something of somebody else's is in it
            (folder / name).rmdir()


def forget(folder: Path) -> None:
    """Let another run be asked for in its place where no part of this one was judged."""
    if not any((folder / PARTS).iterdir()):
        _remove(folder)


def head_of(folder: Path) -> Mapping[str, Any] | None:
    """What a run was asked, if the folder holds one; raises InputError where that cannot be read."""
    path = folder / HEAD
    if not path.exists():
        return None
    with suppress(ValueError):
        head = json.loads(read_bytes(path))
        if isinstance(head, dict) and {"checker", "packs", "tables"} <= head.keys():
            return head
    raise InputError(Problem("is no description of a run", Place(str(path))))


def differences(before: Mapping[str, Any], head: Mapping[str, Any]) -> Iterator[str]:
    """What a run was asked otherwise, each in a line."""
    now = json.loads(json.dumps(head))  # as the one it is compared with: tuples are lists there
    for key in {**before, **now}:
        was, this = before.get(key), now.get(key)
        if isinstance(was, dict) and isinstance(this, dict):
            odd = [name for name in {**was, **this} if was.get(name) != this.get(name)]
            if odd or list(was) != list(this):
                yield f"other {key}: {', '.join(odd) or 'in another order'}"
        elif was != this:
            yield "another record" if key == "record" else f"{key} {was}, now {this}"


def complete(sources_rows: int, totals: Totals) -> None:
    """Hold what came of a run to what was to be read: raises UsageError where a row is missing or told twice."""
    if not sources_rows == totals.read == totals.judged + totals.set_aside:
        message = f"{sources_rows} rows were to be read, {totals.judged} were judged and {totals.set_aside} set aside"
        raise UsageError(Problem(message, hint="a table was changed meanwhile; begin again with --start-over"))


def finished(waiting: Sequence[Part], folder: Path) -> tuple[Totals, list[Part]]:
    """What came of the parts that are finished, and those that are not."""
    outcomes = [(part, done_of(part, folder)) for part in waiting]
    totals = reduce(Totals.plus, (done for _, done in outcomes if done is not None), NOTHING)
    return totals, [part for part, done in outcomes if done is None]
