"""A row of a study traced back: its inputs, and the plane, pools, volumes and port that set each figure."""

import math
from collections.abc import Iterator
from typing import Any

from tanksolve.present.document import Document, Fact, Quantity, Verdict, Words, say
from tanksolve.present.understood import STILL
from tanksolve.present.wording import quantity_words
from tanksolve.study.explain import Chain, Explained
from tanksolve.study.measures import KINDS, MEASURES

__all__ = ["explain_document"]

_BELOW = (
    "V(u, h) = - sum over faces of (u.a) phi(h): the divergence theorem for the field of depths, no cut "
    "made (docs/theory/capacity.md, derived there; summed over a tree of the faces)"
)
_FORMULAS = {
    "worst_slope": (
        "held at u if F(u, e) <= the least fill (wet), or room(u, e) >= the most (dry), F and room of the "
        "worst state that any route can leave (docs/theory/worst_state.md); bound: the same over cells of "
        "attitudes, none left between (docs/theory/envelope.md)"
    ),
    "least_fill": (
        "the greatest F(u, e) over the required attitudes u: no level is solved for "
        "(docs/theory/marks.md, worst_state.md)"
    ),
    "most_fill": (
        "the least room(u, e) over the required attitudes u (docs/theory/marks.md, worst_state.md)"
    ),
    "unusable": "the greatest F(u, e) of the wet ports at the required attitudes (docs/theory/marks.md)",
    "kept_to": "what walls keep for certain, over cells (docs/theory/kept.md)",
    "envelope_area": "sum of r r' sin(turn) / 2 over neighbouring headings, r the bounds [degrees]",
    "capacity": "V(u, h) with h above the top: - sum of (u.a) times the mean height of each face",
    "liquid_mass": "the most fill times the density given",
    "metal_mass": "wall area times plate times density: a thin sheet (docs/theory/mass.md)",
}


def explain_document(found: Explained) -> Document:
    """Each figure with what it rests on, in order from the number to the formula."""
    study, row = found.study, found.row
    return Document(
        "explain",
        say("Where do the figures of row {row} come from?", row=str(found.number + 1)),
        Verdict.TOLD if found.same else Verdict.NO,
        _sentence(found),
        facts=[
            *_inputs(found),
            *(fact for name in study.compute for fact in _measure(found, name)),
        ],
        cautions=(f"tank limit: {STILL}",),
        data={
            "row": found.number + 1,
            "same": found.same,
            "kept": row,
            "again": found.again,
            "identity": study.identity,
            "chains": {chain.measure: _keys(chain) for chain in found.chains},
        },
    )


def _sentence(found: Explained) -> Words:
    if not found.same:
        return "computed anew the row differs from what was kept: please report it."
    if found.row["status"] != "ok":
        return say(
            "Row {row} has no figures: {why}", row=str(found.number + 1), why=found.row["reason"]
        )
    return say(
        "Row {row} computed anew is the same to the last digit; {sets} of its figures are set by an attitude, "
        "told below.",
        row=str(found.number + 1),
        sets=str(len(found.chains)),
    )


def _inputs(found: Explained) -> Iterator[Fact]:
    study, row = found.study, found.row
    values, log = study.row(found.number)
    yield Fact("study", f"{study.name}, {study.source}")
    yield Fact("tank file", str(study.tank_source))
    for one, value in zip(study.variants.vary, values, strict=True):
        yield Fact("varied", f"{one.key} = {value}")
    if log is not None:
        yield Fact("log", str(log))
    yield Fact("inputs", f"sha256 {row['inputs']}")
    yield Fact("version", row["version"])
    settings = study.settings
    yield Fact(
        "tolerances",
        say(
            "slopes within {slope}, looked up to {to}; fills within {depth} of mean depth",
            slope=Quantity(math.radians(settings.tolerance_deg), "small angle"),
            to=Quantity(math.radians(settings.search_to_deg), "slope"),
            depth=Quantity(settings.fill_tolerance_m, "length"),
        ),
    )
    yield Fact("attitudes", "; ".join(settings.requirement.words))


def _measure(found: Explained, name: str) -> Iterator[Fact]:
    measure = MEASURES[name]
    kind = KINDS[measure.kind]
    label = name.replace("_", " ")
    value = found.row["values"].get(name + kind.suffix)
    if value is None:
        yield Fact(label, "none")
        return
    yield Fact(
        label, say("{value}: " + measure.what, value=_quantity(name, value, measure.rounding))
    )
    chain = next((one for one in found.chains if one.measure == name), None)
    if chain is not None:
        yield from _links(chain, label)
    if name in _FORMULAS:
        yield Fact(label, f"formula: {_FORMULAS[name]}")


def _quantity(name: str, value: float, rounding: Any = "nearest") -> Quantity:
    kind = KINDS[MEASURES[name].kind]
    return Quantity(value * kind.to_si, kind.told, rounding)


def _links(chain: Chain, label: str) -> Iterator[Fact]:
    """From the number to plane, pools, volumes and port."""
    attitude, port = chain.attitude, chain.port
    yield Fact(
        label,
        say(
            "solved: {root}; told is the bound beside it", root=_quantity(chain.measure, chain.root)
        ),
    )
    yield Fact(
        label,
        say(
            "set at {slope}, {heading}: up is ({up})",
            slope=Quantity(attitude.slope, "slope"),
            heading=Quantity(attitude.heading, "heading"),
            up=", ".join(f"{c:.6f}" for c in attitude.up),
        ),
    )
    x, y, z = (quantity_words(Quantity(c, "length")) for c in port.position)
    yield Fact(
        label,
        say(
            "port: {name} ({kind}, {rule}) at {x}, {y}, {z}; {asked} {cover}",
            name=port.name, kind=port.kind.value, rule=port.effective_rule.value,
            x=x, y=y, z=z, cover=Quantity(port.required_cover, "length"),
            asked="cover" if chain.wet else "clearance",
        ),
    )  # fmt: skip
    side = (
        "highest point and the cover over it"
        if chain.wet
        else "lowest point and the clearance under it"
    )
    yield Fact(
        label,
        say(
            "plane: through the opening's " + side + ", {edge} above the tank's lowest point there",
            edge=Quantity(chain.edge_m, "length"),
        ),
    )
    yield Fact(
        label, say("volume below the plane: {v}; " + _BELOW, v=Quantity(chain.below_m3, "volume"))
    )
    stuff = "liquid" if chain.wet else "air"
    have = "" if chain.have_m3 is None else "; there is {have}"
    yield Fact(
        label,
        say(
            "in the worst state the port needs {need} of " + stuff + have,
            need=Quantity(chain.need_m3, "volume"),
            have=Quantity(chain.have_m3 or 0.0, "volume"),
        ),
    )
    told = [quantity_words(Quantity(pool.volume_m3, "volume")) for pool in chain.pools.pools]
    yield Fact(
        label,
        f"pools, filled standing level and tilted straight there (a sample): {', '.join(told)}",
    )


def _keys(chain: Chain) -> dict[str, Any]:
    return {
        "root": chain.root,
        "slope_deg": math.degrees(chain.attitude.slope),
        "heading_deg": math.degrees(chain.attitude.heading),
        "up": list(chain.attitude.up),
        "port": chain.port.name,
        "edge_m": chain.edge_m,
        "below_m3": chain.below_m3,
        "need_m3": chain.need_m3,
        "have_m3": chain.have_m3,
        "pools_m3": [pool.volume_m3 for pool in chain.pools.pools],
    }
