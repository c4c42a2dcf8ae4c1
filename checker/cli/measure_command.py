"""`checker measure`: the bench asks for one reading after another and judges each as it is typed."""

from __future__ import annotations

import gc
import shutil
import sys
import textwrap
from argparse import Namespace
from collections.abc import Callable, Iterable, Iterator, Sequence
from datetime import date
from pathlib import Path

from checker.bench.session import Bench
from checker.bench.steps import Step, nearest_title
from checker.cli.look import coloured
from checker.cli.output import write_out
from checker.cli.record_file import RecordFile, require_file
from checker.cli.terminal import is_coloured, is_terminal, standard_output
from checker.documents.printable import printable
from checker.errors import Problem, UsageError
from checker.findings.finding import Finding, places
from checker.plugins import gather
from checker.records.record import read_record
from checker.reports.overview import answer
from checker.rulebook import rulebook_for
from checker.session import Reply

NARROWEST, WIDEST = 30, 100
_MOST_TOLD = 6
"""Of how many rules the verdicts are told after an answer, so that they stay on the screen."""
_HELP = """Type the value as you read it: 2.4489, 2.5 thou, 62.20 mm, above .003. A number alone has the unit shown. \
A choice goes by its name or its number.
Enter       leave this one for another time
skip        leave the rest of this block
go WORDS    to a measurement by words of its title, as in: go shaft play
first       back to the first one still open, those left out too
back        what you typed last; what you type there takes the place of what is written, - takes it away
all VALUE   one value for all stations of this row
each        ask for each station by itself, where they are not all alike
again       one more reading where the last one was taken; several count by their mean
note WORDS  a remark beside this station
with NAME   the instrument you hold now, as listed in the record
quit        stop; everything typed is saved already"""


def run(options: Namespace) -> int:
    """Ask until everything is measured or the builder stops; the status is that of the report."""
    gc.enable()  # a session lasts for hours
    require_file(options.record)
    if not (is_terminal(sys.stdin) and is_terminal(standard_output())):
        hint = "fill in a file instead: checker sheet writes one"
        raise UsageError(Problem("measuring needs an interactive terminal", hint=hint))
    sys.stdin.reconfigure(errors="backslashreplace")  # type: ignore[union-attr]
    path = Path(options.record).resolve()
    if path.suffix.lower() not in (".yaml", ".yml"):
        hint = "make one of it: checker sheet RECORD --format yaml --output NEW.yaml"
        raise UsageError(Problem("readings are written into a YAML record only", hint=hint))
    record = read_record(path)
    rulebook = rulebook_for(record, *options.pack, plugins=gather(without=options.without))
    file = RecordFile(path)
    asked = (options.application, options.before, options.musts, options.inspection)
    bench = Bench(rulebook, file.read(), options.record, file.change, date.today(), *asked)
    _Talk(bench).go()
    return bench.report.status


class _Talk:
    """The questions and answers of one session."""

    def __init__(self, bench: Bench) -> None:
        self.bench = bench
        self.shown = ""
        self.commands: dict[str, Callable[[str], object]] = {
            "skip": lambda _: self.say(f"  {bench.skip_block()}: left for another time."),
            "go": self.go_to,
            "first": lambda _: bench.first(),
            "back": lambda _: bench.back(),
            "each": self.each,
            "again": self.again,
            "all": lambda words: self.tell(bench.enter(words, for_all=True)),
            "note": lambda words: self.tell(bench.note(words)),
            "with": lambda words: self.tell(bench.use(words)),
            "?": lambda _: self.say(*_HELP.split("\n")),
            "help": lambda _: self.say(*_HELP.split("\n")),
        }

    def go(self) -> None:
        """Ask for each step; end with the answer to whether the build may go on."""
        bench = self.bench
        self.say(f"{bench.report.record.assembly}: {bench.taken} of {len(bench.steps)} measured. ? for help.")
        self.say(*(f"  suspect part sheet: {flag}" for flag in bench.report.suspect_sheets))
        while bench.step is not None:
            self.show(bench.step)
            try:
                typed = input(self.prompt(bench.step)).strip()
            except (EOFError, KeyboardInterrupt):
                self.say("")
                break
            if typed in ("quit", "q"):
                break
            self.obey(typed)
        self.say("", f"{bench.taken} of {len(bench.steps)} measured.", answer(bench.report))

    def obey(self, typed: str) -> None:
        word, _, rest = typed.partition(" ")
        step = self.bench.step
        is_choice = step is not None and typed in step.line.item.characteristic.choices
        if not typed:
            self.bench.skip()
        elif word in self.commands and not is_choice:
            self.commands[word](rest.strip())
        else:
            self.tell(self.bench.enter(typed))

    def again(self, _: str) -> None:
        if not self.bench.again():
            self.say("  Nothing was measured in this session yet, or the last value stands for all.")

    def each(self, _: str) -> None:
        if not self.bench.ask_each():
            self.say("  It is asked for by itself already, or one value stands for all.")

    def go_to(self, words: str) -> None:
        """Go there; where several fit, the others are named."""
        first, *others = self.bench.go(words) or [""]
        if not first:
            hint = nearest_title(words, self.bench.steps)
            self.say(f"  No measurement that is asked for has {words!r} in its title{f' ({hint})' if hint else ''}.")
        elif others:
            more = f", and {len(others) - _MOST_TOLD} more" if len(others) > _MOST_TOLD else ""
            self.say(f"  Also with these words: {', '.join(others[:_MOST_TOLD])}{more}.")

    def show(self, step: Step) -> None:
        """What to measure and how, once for all stations; the target of this one where stations differ."""
        line = step.line
        stated = line.item.characteristic
        if self.shown != line.name:
            self.shown = line.name
            numbers = f"{self.bench.number} of {len(self.bench.steps)}"
            self.say("", ", ".join(filter(None, (stated.system, line.due))) + f" ({numbers})", line.title)
            self.say(*(f"  {words}" for words in (stated.with_, stated.how) if words))
            self.say(*(f"  {target.title}: {target.texts[0]}" for target in line.targets if target.is_alike))
            self.say(*(f"  {number} {choice}" for number, choice in enumerate(stated.choices, 1)))
        station = step.spot.station
        for target in (target for target in line.targets if not target.is_alike):
            self.say(f"  {target.title}: {target.at(int(station) - 1) if station.isdigit() else target.words}")

    def prompt(self, step: Step) -> str:
        """Where, in which unit, what is there already and with what it is measured."""
        filled = ", ".join(step.filled.in_words)
        there = f"reading {len(step.filled.texts) + 1} beside {filled}" if self.bench.adds else filled
        instrument = self.bench.instrument(step.line)
        held = f"with {instrument}" if instrument else ""
        words = ", ".join(filter(None, (step.spot.where or "value", step.line.unit_words, held)))
        return printable(f"{words}{f' [{there}]' if there else ''}: ")

    def tell(self, reply: Reply) -> None:
        if reply.refused:
            self.say(f"  Not saved: {'; '.join(reply.refused)}")
        self.say(*(f"  check this reading: {flag}" for flag in reply.flags))
        rules = list(_by_rule(reply.findings))
        for alike in rules[:_MOST_TOLD]:
            first, *more = _verdict_lines(alike)
            self.say(f"  {first}", paint=alike[0])
            self.say(*(f"    {words}" for words in more))
        if reply.judged and not reply.refused:
            others = f", {len(rules) - _MOST_TOLD} more kinds of them not shown" if len(rules) > _MOST_TOLD else ""
            self.say(f"  {reply.judged} more check{'s' if reply.judged > 1 else ''} judged{others}.{self.advice()}")

    def advice(self) -> str:
        """What to answer next, once a row is full: its title, and how many checks wait for it."""
        step, best = self.bench.step, self.bench.next_best
        if best is None or (step is not None and step.line.name == self.shown):
            return ""
        return f" Next best: {' and '.join(best.titles)}, for {best.checks} more."

    def say(self, *lines: str, paint: Finding | None = None) -> None:
        """Lines folded to the width of the terminal."""
        width = min(max(shutil.get_terminal_size().columns - 1, NARROWEST), WIDEST)
        for text in _folded(map(printable, lines), width):
            colours = paint is not None and is_coloured()
            write_out(f"{coloured(text, paint.verdict) if paint and colours else text}\n", None)


def _by_rule(findings: Iterable[Finding]) -> Iterator[list[Finding]]:
    """The findings of one rule that say the same, together."""
    alike: dict[tuple[object, ...], list[Finding]] = {}
    for finding in findings:
        said = (finding.name, finding.verdict, finding.shown_value, finding.remedy)
        alike.setdefault(said, []).append(finding)
    yield from alike.values()


def _verdict_lines(alike: Sequence[Finding]) -> Iterator[str]:
    """The verdict, and what to do about it; the limits only where they are missed."""
    finding, where = alike[0], places(alike)
    yield f"{finding.verdict}: {finding.title}{f', {where}' if where else ''} {finding.shown_value}".rstrip()
    bands = "; ".join(f"{band} be {words}" for band in ("should", "must") if (words := finding.asked(band)))
    yield from filter(None, (bands, finding.remedy and f"do: {finding.remedy}", *finding.remarks))


def _folded(lines: Iterable[str], width: int) -> Iterator[str]:
    for line in lines:
        indent = line[: len(line) - len(line.lstrip())]
        yield from textwrap.wrap(line, width, subsequent_indent=indent + "  ") or [""]
