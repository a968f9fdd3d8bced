"""Every answer about one tank as a single HTML file that opens from disk, with a tank to tilt.

The words come from the Documents of the answers. The liquid is computed in the page, by the programs in
``page/``; styles and programs are written into the file, and a policy at its head lets nothing else run
and nothing be fetched.
"""

import base64
import hashlib
import json
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from html import escape
from importlib.resources import files
from string import Template
from typing import Any

from tanksolve.model.attitude import Attitude
from tanksolve.model.ports import Port
from tanksolve.model.requirement import Requirement
from tanksolve.model.tank import Tank
from tanksolve.present.as_html import cautions_html, document_html, facts_html, sentence_html
from tanksolve.present.document import Words
from tanksolve.present.page_data import editable_shape, liquid_data, tank_data
from tanksolve.present.page_library import three_script
from tanksolve.present.paper import usual_paper
from tanksolve.present.plan_edge import limit_line
from tanksolve.present.plan_frame import rim_of
from tanksolve.present.report_answers import Answer, words_used
from tanksolve.present.required import outlines, steepest_deg
from tanksolve.present.style import fill_words
from tanksolve.questions.envelope.envelope import Envelope
from tanksolve.questions.marks.marks import Marks
from tanksolve.state.conditions import Pickups
from tanksolve.unit_systems import current, rounded
from tanksolve.units import volume_words
from tanksolve.version import __version__

__all__ = ["Machine", "report_page"]

_PROGRAMS = ("engine", "cuts", "words", "drawings", "solid", "sensor", "editor", "page")
_STOP = (
    "Still liquid in a vented tank, by this mesh. It says nothing about roll-over: the machine maker's "
    "limit, local codes and licensed practice come first."
)
_KEY = (
    (
        '<rect width="34" height="14" class="held"/><path d="M0 1H34" class="limit"/>',
        "tank limit: proved, no gap between attitudes, for {fill} of liquid",
    ),
    ('<path d="M0 7H34" class="need"/>', "required: {required}"),
    ('<circle cx="17" cy="7" r="5" class="stands"/>', "where the tank above stands"),
)
_KEY_NOW = '<path d="M0 7H34" class="now"/>'


@dataclass(frozen=True)
class Machine:
    """What the page computes with, in machine axes: tank, ports, the rule for several pickups."""

    tank: Tank
    ports: tuple[Port, ...]
    pickups: Pickups


def report_page(
    machine: Machine,
    limits: Envelope,
    answers: Sequence[Answer],
    *,
    requirement: Requirement | None = None,
    marks: Marks | None = None,
    made: date,
) -> str:
    """The whole page; ``answers`` in their order, the first of them gives the verdict of the report.

    Words and numbers are in the units in force.
    """
    first = answers[0].document
    library = three_script()
    programs = [*([library] if library else []), *(_text(f"{name}.js") for name in _PROGRAMS)]
    sources = " ".join(f"'sha256-{_hash(text)}'" for text in programs)
    links = [("bench", "Tilt the tank"), ("limits", "Limits in every heading")]
    links += [(answer.anchor, answer.title) for answer in answers]
    links += [
        ("words", "Words used here"),
        ("cautions", "Cautions"),
        ("inputs", "What was taken in"),
    ]
    cautions: list[Words] = [c for answer in answers for c in answer.document.cautions]
    return Template(_text("report.html")).substitute(
        script_sources=sources,
        title=escape(f"{machine.tank.name}: how far it may tilt"),
        style=_text("page.css").replace("size: A4", f"size: {usual_paper()}"),
        verdict=first.verdict.name.lower(),
        sentence=sentence_html(first),
        lead=escape(
            f"{machine.tank.name}: holds {volume_words(machine.tank.capacity)}; "
            f"told for {fill_words(limits.fill)} of liquid. Made {made.isoformat()} by tanksolve {__version__}."
        ),
        stop=escape(_STOP),
        links="".join(f'<a href="#{escape(to)}">{escape(title)}</a>' for to, title in links),
        key=_key(requirement, fill_words(limits.fill)),
        answers="\n".join(document_html(a.document, a.title, a.anchor, a.note) for a in answers),
        words=facts_html(words_used()),
        fill=escape(fill_words(limits.fill)),
        cautions=cautions_html(cautions),
        inputs=facts_html(first.understood),
        foot=escape(
            f"tanksolve {__version__}, {made.isoformat()}. One file: it fetches nothing and sends nothing."
        ),
        data=_as_script(_data(machine, limits, requirement, marks)),
        scripts="\n".join(f"<script>{text}</script>" for text in programs),
    )


def _text(name: str) -> str:
    return files("tanksolve.present").joinpath("page", name).read_text(encoding="utf-8")


def _hash(text: str) -> str:
    return base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()


def _as_script(data: Mapping[str, Any]) -> str:
    """JSON that no text inside can end or start a script with."""
    text = json.dumps(data, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    for letter in "<>&\u2028\u2029":
        text = text.replace(letter, f"\\u{ord(letter):04x}")
    return text


def _key(requirement: Requirement | None, fill: str) -> str:
    """The legend of the plan."""
    required = "" if requirement is None else "; ".join(requirement.words)
    rows = [
        (mark, t.format(fill=fill, required=required))
        for mark, t in _KEY
        if required or "{required}" not in t
    ]
    told = [
        f"<li><svg aria-hidden='true'>{mark}</svg><span>{escape(t)}</span></li>" for mark, t in rows
    ]
    now = "limits of what stands on the bench now: sampled in this page, no bound"
    told.append(
        f"<li id='key-now' hidden><svg aria-hidden='true'>{_KEY_NOW}</svg><span>{now}</span></li>"
    )
    return "".join(told)


def _needed_words(requirement: Requirement) -> str:
    """The name of what is required on the plan, in the form of its rings."""
    steepest = rounded(steepest_deg(requirement), 1, "nearest")
    percent = rounded(100.0 * math.tan(math.radians(steepest)), 1, "down")
    return f"required: up to {steepest:.1f}° · {percent:.1f} %"


def _data(
    machine: Machine, limits: Envelope, requirement: Requirement | None, marks: Marks | None
) -> dict[str, Any]:
    """What the programs in the page read."""
    rim = rim_of([limits])
    needed = [] if requirement is None else [loop.tolist() for loop in outlines(requirement)]
    if requirement is not None:
        rim = max(rim, 5.0 * math.ceil(steepest_deg(requirement) / 5.0))
    worst = limits.worst
    held = worst.held_to_deg if limits.ok_at_level else 0.0
    attitude = Attitude.from_slope(math.radians(held), math.radians(worst.heading_deg))
    units = current().units
    return {
        "tank": tank_data(machine.tank),
        "editable": editable_shape(machine.tank, machine.ports),
        "liquid": liquid_data(machine.tank, limits.fill, machine.ports),
        "pickups": machine.pickups,
        "marks": None
        if marks is None or not marks.feasible
        else {"least": marks.least_m3, "most": marks.most_m3},
        "limits": {
            "rim": rim,
            "line": limit_line(limits).tolist() if limits.ok_at_level else [],
            "needed": needed,
            "neededWords": "" if requirement is None else _needed_words(requirement),
            "worst": list(attitude.up),
        },
        "units": {
            kind: {
                "symbol": units[kind].symbol,
                "size": units[kind].size,
                "digits": units[kind].digits,
            }
            for kind in ("length", "volume")
        },
    }
