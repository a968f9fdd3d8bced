"""A requirement beside any answer: whether it is kept, in line one, and in the exit code."""

from collections.abc import Sequence
from dataclasses import replace

from tanksolve.model.requirement import Requirement
from tanksolve.present.document import Document, Verdict, joined, say
from tanksolve.present.envelope_document import met_facts, met_sentence, met_verdict
from tanksolve.questions.envelope.requirement_met import Met
from tanksolve.record import as_plain

__all__ = ["judged"]


def judged(document: Document, met: Sequence[Met], requirement: Requirement) -> Document:
    """The document with what is required judged beside its own answer: no where either is no.

    met : as of ``questions.envelope.requirement_met.conditions_met``, not empty.
    """
    verdicts = {document.verdict, met_verdict(met)}
    worst = next(v for v in (Verdict.NO, Verdict.UNKNOWN, Verdict.YES) if v in verdicts)
    own = document.sentence if not isinstance(document.sentence, str) else say(document.sentence)
    required = met_sentence(met)
    # what decides stands first
    first, then = (required, own) if met_verdict(met) is worst else (own, required)
    then = replace(then, template=then.template[:1].upper() + then.template[1:])
    return replace(
        document,
        verdict=worst,
        sentence=joined(". ", first, then),
        facts=(*met_facts(met, requirement), *document.facts),
        data={
            **document.data,
            "requirements": as_plain(met),
            "source": document.data.get("source", requirement.source),
        },
    )
