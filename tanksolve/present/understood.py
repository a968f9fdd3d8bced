"""The inputs as they were understood: tank, liquid and ports, the same in every answer."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from tanksolve.model.liquid import Fill
from tanksolve.model.ports import Port, PortKind, Rule
from tanksolve.model.tank import Tank
from tanksolve.present.cover_cautions import cover_cautions
from tanksolve.present.document import Column, Fact, Quantity, Said, Words, joined, say
from tanksolve.unit_systems import told

if TYPE_CHECKING:
    from tanksolve.questions.level.air import RoofBay

__all__ = [
    "STILL",
    "TANK_CAUTIONS",
    "Inputs",
    "mouth_cell",
    "mouth_column",
    "port_details",
    "wall_cautions",
]

_SMALL_BORE = 0.004  # m
_WORTH_SAYING = 1e-5  # m³: less would be told as 0.00 L or 0.00 gal
STILL = "still liquid, vented tank, this mesh; sloshing, foam and a vortex are not in it"
TANK_CAUTIONS = (
    f"tank limit: {STILL}",
    "it says nothing about roll-over: the machine maker's slope limit, local codes and licensed "
    "practice come first",
)


def wall_cautions(tank: Tank) -> tuple[str, ...]:
    """What must be said of a tank whose walls, flaps or pipes part its liquid; nothing of another."""
    if tank.is_convex and not tank.links:
        return ()
    kinds = {link.kind for link in tank.links}
    words = [
        "walls part the liquid: told is the worst that any drive, the pump or the filler can leave, so "
        "what a wall alone keeps round a port is given no credit"
    ]
    if "flap" in kinds:
        words.append(
            "flaps are taken as tight, and as open at the slightest difference of level: leave one that "
            "may stick out of the tank file"
        )
    if "balance pipe" in kinds:
        words.append("balance pipes have all the time they need, and draw over no rise as a siphon")
    return tuple(words)


@dataclass(frozen=True)
class Inputs:
    """What was described, in tank axes, where distances from walls are told.

    Attributes
    ----------
    tank, ports : in tank axes.
    fill : least and most liquid, None where none was given.
    fill_words : how the fill was read, where it was a depth.
    notes : what was understood beside it, in words.
    faults : what is wrong with a port's opening, in words, by the port's name.
    roofs : parts of the roof that shut in air on level ground.
    """

    tank: Tank
    ports: tuple[Port, ...] = ()
    fill: Fill | None = None
    fill_words: str = ""
    notes: tuple[str, ...] = ()
    faults: Mapping[str, str] = field(default_factory=dict)
    roofs: "tuple[RoofBay, ...]" = ()

    def facts(self) -> tuple[Fact, ...]:
        """Tank, liquid and ports as understood; notes and ports' details with the whole answer."""
        return tuple(self._facts())

    def _facts(self) -> Iterator[Fact]:
        length, width, height = (
            Quantity(float(c), "length") for c in self.tank.upper - self.tank.lower
        )
        below = float(self.tank.corner[2] - self.tank.lower[2])
        sump = {"below": _length(below)} if below > 1e-6 else {}
        taken, lost = "", {}
        if self.tank.taken >= _WORTH_SAYING:
            taken = "; plates and internals take {taken}, which lifts the level"
            lost = {"taken": Quantity(self.tank.taken, "volume")}
        yield Fact(
            "tank",
            say(
                "{name}: {volume}, {length} long, {width} wide, {height} high"
                + (", {below} of it below the floor" if sump else "")
                + taken,
                name=self.tank.name,
                volume=Quantity(self.tank.capacity, "volume"),
                length=length,
                width=width,
                height=height,
                **sump,
                **lost,
            ),
        )
        yield from (Fact("tank", note, brief=False) for note in self.notes)
        if self.fill_words:
            yield Fact("liquid", self.fill_words)
        if self.ports and self.tank.has_own_origin:
            yield Fact("ports", self.tank.origin_words)
        for port in self.ports:
            yield from self._port(port)

    def _port(self, port: Port) -> Iterator[Fact]:
        x, y, z = (Quantity(c, "length") for c in self.tank.from_walls(port.position))
        high = float(z.value or 0.0)
        placed = say(
            "{name} ({kind}, {rule}): {x} from the rear wall, {y} from the right wall, {z} {side} the floor",
            name=port.name,
            kind=port.kind.value,
            rule=port.effective_rule.value,
            x=x,
            y=y,
            z=Quantity(abs(high), "length"),
            side="above" if high >= 0.0 else "below",
        )
        warned = (say("WARNING: see the caution"),) if port.name in self.faults else ()
        yield Fact("port", joined("; ", placed, *port_details(port), *warned))
        if port.kind is PortKind.PICKUP and port.cover is None and port.bore and not port.flow:
            more = f"{port.name}: its pump's flow may ask for more liquid over it than 2 x bore"
            yield Fact(
                "port",
                f"{more}: see 'tanksolve suction', or give it a flow",
                brief=False,
                reader=more,
            )

    @property
    def first_note(self) -> str:
        """What a picture must say first: that no cover is asked for over a pickup; else nothing."""
        bare = [
            port.name
            for port in self.ports
            if port.kind is PortKind.PICKUP and port.required_cover == 0.0
        ]
        if not bare:
            return ""
        return f"edge of drawing air, no cover (pickup {', '.join(bare)}: give a bore or a cover)"

    def cautions(self, most: float | None = None) -> tuple[Words, ...]:
        """What must be said before all else; ``most`` [m³] is in at most where that is not the fill's."""
        return (
            *self.port_cautions(),
            *cover_cautions(self.ports),
            *self.roof_cautions(most),
        )

    def roof_cautions(self, most: float | None = None) -> tuple[str, ...]:
        """That air is shut in, and that all figures take it as vented."""
        told = tuple(roof.words for roof in self.shut_roofs(most))
        return tuple(f"{words}; all figures take that air as vented" for words in told)

    def port_cautions(self) -> tuple[Words, ...]:
        """What must be said of the ports as they are placed."""
        first = self.first_note
        faults = (f"port {name}: {fault}" for name, fault in self.faults.items())
        return (*((first,) if first else ()), *faults, *self._small_bores())

    def shut_roofs(self, most: float | None = None) -> "tuple[RoofBay, ...]":
        """Parts of the roof that shut in air at the most fill, or with ``most`` [m³]; all where none is known."""
        known = [] if self.fill is None else [self.fill.most]
        known += [] if most is None else [most]
        return tuple(roof for roof in self.roofs if not known or max(known) > roof.from_m3)

    def drawing(self, ports: Sequence[Port]) -> "Inputs":
        """The same with the flows of ``ports``, which may stand in other axes."""
        flows = {port.name: port.flow for port in ports}
        own = (replace(port, flow=flows.get(port.name, port.flow)) for port in self.ports)
        return replace(self, ports=tuple(own))

    def _small_bores(self) -> Iterator[Said]:
        """Bores that hardly any port has: of one typed in another unit, 38 mm becomes 1.5 mm."""
        for port in self.ports:
            if port.bore is not None and port.bore < _SMALL_BORE:
                yield say(
                    "{name}: a bore of {bore} is less than tubes of such ports have (common practice, no "
                    "source): check its unit",
                    name=port.name,
                    bore=_length(port.bore),
                )


def _length(metres: float) -> Quantity:
    return Quantity(metres, "length")


def port_details(port: Port) -> Iterator[Said]:
    """What decides about a port besides its place: bore, facing, and the liquid or air asked for."""
    if port.bore is not None:
        facing = "" if port.facing is not None else " (no facing given: any direction taken)"
        what = "its own outline, {bore} across" if port.rim else "bore {bore}"
        yield say(what + facing, bore=_length(port.bore))
    if port.required_cover > 0.0:
        what = "of liquid over it" if port.effective_rule is Rule.WET else "of air below it"
        why = "2 x bore, fluid-power rule of thumb" if port.cover is None else "as given"
        yield say("{cover} " + f"{what} asked for ({why})", cover=_length(port.required_cover))


def mouth_column(all_round: bool) -> Column:
    """The column of ports' bores; where one is not round, of their mouths in words."""
    return Column("bore", "length") if all_round else Column("mouth")


def mouth_cell(bore: float | None, is_round: bool, all_round: bool) -> float | str | None:
    """What stands under ``mouth_column``: nobody is to drill a hole that is not round."""
    if all_round or bore is None:
        return bore
    size = told(bore, "length")
    return f"bore {size}" if is_round else f"{size} across, not round"
