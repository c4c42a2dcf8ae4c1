"""The record with the chosen parts written into it: its order, its comments and all that is not touched stay."""

from __future__ import annotations

from checker import Filled, InputError, Note, Problem, Rulebook, UsageError, record_from_text, with_value

from checker_select_fit.fit import Proposal
from checker_select_fit.fitted import ASSEMBLY

UNMEASURED = "not measured"


def written_text(proposal: Proposal, rulebook: Rulebook, text: str) -> str:
    """The text of a YAML record with the parts proposed; what must be measured with them reads "not measured".

    Raises UsageError where nothing is proposed or the record is laid out in a way that cannot be written into.
    """
    if proposal.expected is None:
        raise UsageError(Problem("nothing is proposed, so there is nothing to write"))
    source = proposal.before.record.source
    try:
        for (name, station), notes in proposal.changed.items():
            if not notes and not _is_written(proposal, name):
                continue
            place = ASSEMBLY if rulebook.per[name] is None else str(station + 1)
            text = with_value(text, source, name, place, _filled(notes), rulebook.per)
        rulebook.check(record_from_text(text, source))
    except (InputError, RuntimeError) as error:
        hint = "write one value a station, none for all of them, and try again"
        raise UsageError(Problem(f"the parts cannot be written into {source}: {error}", hint=hint)) from error
    return text


def _is_written(proposal: Proposal, name: str) -> bool:
    return any(note.characteristic == name for note in proposal.before.record.notes)


def _filled(notes: tuple[Note, ...]) -> Filled:
    if not notes:
        return Filled((UNMEASURED,))
    texts = tuple(text for note in notes for text in note.written)
    return Filled(texts, notes[0].circumstances, notes[0].form if len(notes) == 1 else "readings")
