"""What was mended in a mesh file, and what that can change, as a document."""

from tanksolve.geometry.repair import Repair
from tanksolve.present.document import Document, Fact, Quantity, Said, Sure, Verdict, say
from tanksolve.record import as_plain

__all__ = ["repair_document"]


def repair_document(done: Repair) -> Document:
    """Each step with its places in the file's own units, and the bound on the change of volume."""
    facts = [Fact("mended", step.words) for step in done.steps]
    for step in done.steps:
        for x, y, z in step.places:
            where = f"{step.kind} at ({x:.6g}, {y:.6g}, {z:.6g}) in the file's units"
            facts.append(Fact("at", where, brief=False))
    facts.append(Fact("volume changed", Quantity(done.change, "share", "up"), Sure.BOUND))
    facts.append(Fact("written", f"{done.output}; {done.file} is as it was"))
    return Document(
        "repair",
        say("What was mended in {file}?", file=done.file),
        Verdict.TOLD,
        _sentence(done),
        facts=facts,
        data={**as_plain(done), "change": done.change},
    )


def _sentence(done: Repair) -> Said:
    if not done.steps:
        return say("Nothing to mend: the mesh was sound; 0 % changed")
    count = f"{len(done.steps)} thing{'' if len(done.steps) == 1 else 's'} mended"
    return say(
        count + "; the volume can have changed by {change} at most",
        change=Quantity(done.change, "share", "up"),
    )
