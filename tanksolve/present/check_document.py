"""The trade's layout rules, held against a tank, as a document."""

from collections.abc import Sequence

from tanksolve.present.document import Document, Fact, Said, Verdict, say
from tanksolve.present.understood import Inputs
from tanksolve.questions.check import Finding
from tanksolve.questions.check import Verdict as Outcome
from tanksolve.record import as_plain

__all__ = ["check_document"]

_CAUTIONS = ("habits that mostly serve well, not laws; what is not given is not passed",)
_WORDS = {
    Outcome.FAIL: "broken",
    Outcome.ADVICE: "advice",
    Outcome.NOT_GIVEN: "not given",
    Outcome.PASS: "kept",
}


def check_document(inputs: Inputs, findings: Sequence[Finding]) -> Document:
    """What is broken first; what is kept and what could not be judged with the whole answer."""
    count = {outcome: sum(f.verdict is outcome for f in findings) for outcome in Outcome}
    ordered = sorted(findings, key=lambda finding: list(_WORDS).index(finding.verdict))
    return Document(
        "check",
        "Does the layout keep the trade's rules?",
        _verdict(count),
        _sentence(count, ordered),
        facts=[fact for finding in ordered for fact in _facts(finding)],
        cautions=(*inputs.cautions(), *_CAUTIONS),
        understood=inputs.facts(),
        data={"findings": as_plain(findings), "failed": count[Outcome.FAIL]},
    )


def _verdict(count: dict[Outcome, int]) -> Verdict:
    if count[Outcome.FAIL]:
        return Verdict.NO
    judged = count[Outcome.PASS] + count[Outcome.ADVICE]
    return Verdict.YES if judged else Verdict.UNKNOWN


def _sentence(count: dict[Outcome, int], ordered: Sequence[Finding]) -> Said:
    judged = sum(count.values()) - count[Outcome.NOT_GIVEN]
    told = {
        "judged": str(judged),
        "broken": str(count[Outcome.FAIL]),
        "missing": str(count[Outcome.NOT_GIVEN]),
    }
    rest = "; {missing} could not be judged: not given" if count[Outcome.NOT_GIVEN] else ""
    if count[Outcome.FAIL]:
        first = f"{ordered[0].rule}: {ordered[0].found}"
        return say(
            f"{{broken}} of {{judged}} rules judged {'is' if count[Outcome.FAIL] == 1 else 'are'} broken, "
            "first: {first}" + rest,
            first=first,
            **told,
        )
    if not judged:
        return say("nothing is given that a rule could be judged by")
    return say("all {judged} rules judged are kept" + rest, **told)


def _facts(finding: Finding) -> tuple[Fact, Fact]:
    brief = finding.verdict in (Outcome.FAIL, Outcome.ADVICE)
    label = _WORDS[finding.verdict]
    return (
        Fact(label, f"{finding.rule}: {finding.found}", brief=brief),
        Fact(label, f"source: {finding.source}", brief=False),
    )
