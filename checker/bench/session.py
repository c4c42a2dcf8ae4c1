"""A measuring session: which reading comes next, and how an answer gets into the record.

Nothing is held back: every reading is written into the text of the record as it then stands before the next is asked
for, so that several benches may fill in one record. A text that cannot be read, a value that cannot be, or one for a
station that another bench has filled in since, is refused on the spot and not written down.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import date
from typing import TypeAlias

from checker.bench.steps import Step, named, steps_of
from checker.documents.document import parse_yaml
from checker.errors import InputError
from checker.notation.read import NotationError
from checker.records.edit import with_value
from checker.records.filled import BLANK, Filled, filled_in
from checker.records.notes import ASSEMBLY, is_measured
from checker.records.reading_keys import ALL, ENDS
from checker.records.record import record_in
from checker.reports.report import Report
from checker.reports.terms import Terms
from checker.reports.unlocks import Unlock, answers, readings
from checker.rulebook import Rulebook
from checker.session import Reply, reply_to
from checker.sheets.plan import Line, plan
from checker.sheets.written import with_unit

Change: TypeAlias = Callable[[Callable[[str], str]], None]
"""Writes what an edit makes of the text as it stands, with nobody else writing in between; nothing where it raises."""


class _RefusedError(Exception):
    """Why a value is not written down: its arguments are the reasons."""


class Bench:
    """One session on one record, in the order in which a builder measures."""

    def __init__(
        self,
        rulebook: Rulebook,
        text: str,
        source: str,
        change: Change,
        today: date,
        application: str | None = None,
        before: str | None = None,
        musts_only: bool = False,
        inspection: str | None = None,
    ) -> None:
        self._rulebook = rulebook
        self._source = source
        self._change = change
        self._today = today
        self._application = application
        self._terms: Terms = {"before": before, "inspection": inspection}
        self._musts_only = musts_only
        self._per = {name: item.characteristic.per for name, item in rulebook.characteristics.items()}
        self._skipped: set[tuple[str, str]] = set()
        self._differing: set[str] = set()
        self._last: tuple[str, str] | None = None
        self._entered: list[tuple[str, str]] = []
        self._instrument: dict[str, str] = {}
        self.adds = False
        """Whether the next value joins those at its station, instead of taking their place."""
        self._take(text, self._report(text))
        self._at = self._next(-1)

    # --- where the session stands ----------------------------------------------------------------------------------

    @property
    def step(self) -> Step | None:
        """What is asked for now; nothing once everything is measured or was passed over."""
        return self.steps[self._at] if self._at < len(self.steps) else None

    @property
    def number(self) -> int:
        """The place of the present step among all, from 1."""
        return self._at + 1

    @property
    def taken(self) -> int:
        """How many steps have a reading."""
        return sum(step.is_taken for step in self.steps)

    @property
    def next_best(self) -> Unlock | None:
        """What would let most be judged: for readings that were taken, else of what is still to be measured."""
        return next(iter((*answers(self.report), *readings(self.report))), None)

    def instrument(self, line: Line) -> str:
        """What a characteristic is measured with: as said in this session, or as at its other stations."""
        noted = (filled.circumstances.get("with", "") for filled in line.filled.values())
        return self._instrument.get(line.name) or next(filter(None, noted), "")

    # --- what a person may do ---------------------------------------------------------------------------------------

    def enter(self, text: str, for_all: bool = False) -> Reply:
        """Write a value down at the present step, or for all its stations, and go on to the next one."""
        step = self.step
        if step is None:
            return Reply(("Everything is measured.",))
        try:
            filled = self._filled(step, self._meant(step.line, text))
        except NotationError as error:
            return Reply((str(error),))
        station = ALL if for_all and step.spot.station else step.spot.station
        reply = self._write(step.line.name, station, filled)
        if not reply.refused:
            self._last, self.adds = (None if station == ALL else step.key), False
            self._entered.append(step.key)
            if not filled.is_measured:
                self._skipped.add(step.key)
            self._at = self._next(self._place(step.key))
        return reply

    def note(self, text: str) -> Reply:
        """Write a remark beside the present step, measured or not."""
        step = self.step
        if step is None or not text or not text.isprintable():
            return Reply(("There is nothing to note.",))
        before = step.line.filled.get(step.spot.station, Filled(("",)))
        noted = "; ".join(filter(None, (before.circumstances.get("note", ""), text)))
        filled = before._replace(circumstances={**before.circumstances, "note": noted})
        return self._write(step.line.name, step.spot.station, filled)

    def use(self, instrument: str) -> Reply:
        """Say what the readings of this characteristic are taken with from now on."""
        listed = [known.name for known in self.report.record.instruments]
        if instrument not in listed:
            known = f"Listed are {', '.join(listed)}." if listed else "List it under instruments first."
            return Reply((f"There is no instrument {instrument!r} in the record. {known}",))
        if self.step is not None:
            self._instrument[self.step.line.name] = instrument
        return Reply()

    def skip(self) -> None:
        """Leave the present step for another session."""
        if self.step is not None:
            self._skipped.add(self.step.key)
            self.adds = False
            self._at = self._next(self._at)

    def skip_block(self) -> str:
        """Leave all that is open in the present step's system for another session; the system's title."""
        step = self.step
        if step is None:
            return ""
        self._skipped |= {other.key for other in self.steps if other.system == step.system and not other.is_taken}
        self.adds = False
        self._at = self._next(self._at)
        return step.system

    def first(self) -> None:
        """Go back to the first step without a reading, whatever was passed over."""
        self._skipped.clear()
        self.adds = False
        self._at = self._next(-1)

    def go(self, words: str) -> tuple[str, ...]:
        """Go to the first measurement with these words in its title; the titles of all that have them."""
        lines = named(words, self.steps)
        if lines:
            self.adds = False
            self._skipped -= {step.key for step in self.steps if step.line in lines}
            own = [number for number, step in enumerate(self.steps) if step.line is lines[0]]
            self._at = next((number for number in own if not self.steps[number].is_taken), own[0])
        return tuple(line.title for line in lines)

    def ask_each(self) -> bool:
        """Ask for each station where one answer was wanted for all; whether that is so."""
        step = self.step
        if step is None or step.spot.station != ALL or step.is_taken:
            return False
        self._differing.add(step.line.name)
        self._take(self.text, self.report)
        self._at = self._next(self._at - 1)
        return True

    def back(self) -> None:
        """Go to what was entered last, and from there to what was entered before it; else to the step before."""
        if self.adds:
            self.adds = False
            return
        entered = [key for key in self._entered if self._place(key) < len(self.steps)]
        while entered and self._place(entered[-1]) == self._at:
            entered.pop()
        self._at = self._place(entered.pop()) if entered else max(0, self._at - 1)
        self._entered = entered

    def again(self) -> bool:
        """Ask for one more reading where the last one was taken; whether there was one, at a single station."""
        if self._last is None:
            return False
        self._at, self.adds = self._place(self._last), True
        return True

    # --- how it is done ---------------------------------------------------------------------------------------------

    def _meant(self, line: Line, text: str) -> str:
        """The value as it is written down: a choice by its name or number, a quantity with its unit."""
        if not text.isprintable():
            raise NotationError("it contains a character that cannot be displayed; type it again")
        choices = line.item.characteristic.choices
        if not is_measured(text):
            return text
        if line.unit is not None:
            return with_unit(text, line.unit, line.item.notation)
        if text in choices:
            return text
        if text.isascii() and text.isdigit() and 1 <= int(text) <= len(choices):
            return choices[int(text) - 1]
        raise NotationError(f"{text!r} is not one of the choices", tuple(choices))

    def _filled(self, step: Step, text: str) -> Filled:
        """What will stand at a station; a remark that was there stays."""
        before = step.line.filled.get(step.spot.station, BLANK)
        if self.adds and not is_measured(text):
            raise NotationError("no reading is added; leave it with Enter, or go back to take the one there away")
        if self.adds and before.form in ENDS:
            raise NotationError("the reading there has an open end; go back and type it again")
        if self.adds and before.circumstances.get("with", "") != self.instrument(step.line):
            raise NotationError("the reading there was taken with another instrument; go back and type it again")
        if self.adds:
            return before._replace(texts=(*before.texts, text), form="readings")
        note = before.circumstances.get("note", "")
        is_reading = step.line.unit is not None and is_measured(text)
        taken = self._today.isoformat() if is_reading else ""
        stated = {"with": self.instrument(step.line) if is_measured(text) else "", "taken": taken, "note": note}
        return Filled((text,), {name: words for name, words in stated.items() if words})

    def _write(self, name: str, station: str, filled: Filled) -> Reply:
        """Write this into the record as it stands now and judge it, unless it is refused."""
        reply = Reply()

        def edit(current: str) -> str:
            nonlocal reply
            if current != self.text:
                self._catch_up(current, name, station, filled)
            text = with_value(current, self._source, name, station, filled, self._per)
            report = self._report(text)
            reply = reply_to(name, self.report, report)
            if reply.refused:
                raise _RefusedError(*reply.refused)
            judged.append((text, report))
            return text

        judged: list[tuple[str, Report]] = []
        try:
            self._change(edit)
        except InputError as error:
            faults = error.problems
            return Reply(tuple(f"{it.message} ({it.hint})" if it.hint else it.message for it in faults))
        except _RefusedError as refusal:
            return Reply(refusal.args)
        self._take(*judged[-1])
        return reply

    def _catch_up(self, current: str, name: str, station: str, filled: Filled) -> None:
        """Take in what other benches wrote meanwhile; refuses a value where they wrote another one."""
        at, seen = self.step, self._written(name, station)
        self._take(current, self._report(current))
        self._at = self._place(at.key) if at else len(self.steps)
        now = self._written(name, station)
        theirs = {place: filled.in_words for place, filled in now.items() if filled != seen.get(place)}
        if any(words != filled.in_words for words in theirs.values()) or seen.keys() - now.keys():
            there = "; ".join(f"{place}: {', '.join(words)}".removeprefix(": ") for place, words in theirs.items())
            raise _RefusedError(
                f"another session has written {there or 'nothing'} there since you were asked, and you "
                f"{', '.join(filled.in_words)}; type yours again if it is to take the place of that"
            )

    def _written(self, name: str, station: str) -> Mapping[str, Filled]:
        """What is written for a station, by itself or for all; for all stations, whatever is written."""
        filled = filled_in(self.report.record.notes, self._per).get(name, {})
        return filled if station == ALL else {key: filled[key] for key in (station, ALL, ASSEMBLY) if key in filled}

    def _report(self, text: str) -> Report:
        record = record_in(parse_yaml(text.encode(), self._source))
        return self._rulebook.check(record, self._application, **self._terms)

    def _take(self, text: str, report: Report) -> None:
        self.text, self.report = text, report
        lines = plan(self._rulebook, report, self._musts_only).lines
        self.steps: Sequence[Step] = list(steps_of(lines, self._differing))

    def _place(self, key: tuple[str, str]) -> int:
        return next((number for number, step in enumerate(self.steps) if step.key == key), len(self.steps))

    def _next(self, after: int) -> int:
        """The next step without a reading; at the end whatever was asked for by an answer given on the way."""
        order = (*range(after + 1, len(self.steps)), *range(min(after + 1, len(self.steps))))
        wanted = (n for n in order if not self.steps[n].is_taken and self.steps[n].key not in self._skipped)
        return next(wanted, len(self.steps))
