"""Writes small STEP files (ISO 10303-21, AP214) for the tests: a box, a cylinder, a solid of flat triangles."""

from pathlib import Path

import numpy as np

_HEAD = """ISO-10303-21;
HEADER;
FILE_DESCRIPTION((''),'2;1');
FILE_NAME('t','2020-01-01T00:00:00',(''),(''),'','','');
FILE_SCHEMA(('AUTOMOTIVE_DESIGN { 1 0 10303 214 1 1 1 1 }'));
ENDSEC;
DATA;
"""
_UNITS = {
    "mm": "(LENGTH_UNIT()NAMED_UNIT(*)SI_UNIT(.MILLI.,.METRE.))",
    "m": "(LENGTH_UNIT()NAMED_UNIT(*)SI_UNIT($,.METRE.))",
}


class _Writer:
    def __init__(self) -> None:
        self.lines: list[str] = []

    def add(self, text: str) -> str:
        self.lines.append(f"#{len(self.lines) + 1}={text};")
        return f"#{len(self.lines)}"

    def point(self, p) -> str:
        return self.add(f"CARTESIAN_POINT('',({','.join(f'{float(c)!r}' for c in p)}))")

    def direction(self, d) -> str:
        return self.add(f"DIRECTION('',({','.join(f'{float(c)!r}' for c in d)}))")

    def placement(self, at, axis, ref) -> str:
        a, b, c = self.point(at), self.direction(axis), self.direction(ref)
        return self.add(f"AXIS2_PLACEMENT_3D('',{a},{b},{c})")

    def vertex(self, p) -> str:
        return self.add(f"VERTEX_POINT('',{self.point(p)})")

    def edge(self, curve, a, b) -> str:
        return self.add(f"EDGE_CURVE('',{a},{b},{curve},.T.)")

    def face(self, surface, *loops) -> str:
        bounds = []
        for loop in loops:
            edges = [self.add(f"ORIENTED_EDGE('',*,*,{e},.{s}.)") for e, s in loop]
            ring = self.add(f"EDGE_LOOP('',({','.join(edges)}))")
            bounds.append(self.add(f"FACE_OUTER_BOUND('',{ring},.T.)"))
        return self.add(f"ADVANCED_FACE('',({','.join(bounds)}),{surface},.T.)")

    def write(self, path: Path, faces: list[str], unit: str) -> None:
        shell = self.add(f"CLOSED_SHELL('',({','.join(faces)}))")
        solid = self.add(f"MANIFOLD_SOLID_BREP('tank',{shell})")
        length = self.add(_UNITS[unit])
        angle = self.add("(NAMED_UNIT(*)PLANE_ANGLE_UNIT()SI_UNIT($,.RADIAN.))")
        sr = self.add("(NAMED_UNIT(*)SI_UNIT($,.STERADIAN.)SOLID_ANGLE_UNIT())")
        fuzz = self.add(f"UNCERTAINTY_MEASURE_WITH_UNIT(LENGTH_MEASURE(1.E-07),{length},'','')")
        context = self.add(
            "(GEOMETRIC_REPRESENTATION_CONTEXT(3)GLOBAL_UNCERTAINTY_ASSIGNED_CONTEXT"
            f"(({fuzz}))GLOBAL_UNIT_ASSIGNED_CONTEXT(({length},{angle},{sr}))"
            "REPRESENTATION_CONTEXT('',''))"
        )
        frame = self.placement((0, 0, 0), (0, 0, 1), (1, 0, 0))
        shape = self.add(f"ADVANCED_BREP_SHAPE_REPRESENTATION('',({frame},{solid}),{context})")
        app = self.add("APPLICATION_CONTEXT('automotive design')")
        product_context = self.add(f"PRODUCT_CONTEXT('',{app},'mechanical')")
        product = self.add(f"PRODUCT('tank','tank','',({product_context}))")
        formation = self.add(f"PRODUCT_DEFINITION_FORMATION('','',{product})")
        definition_context = self.add(f"PRODUCT_DEFINITION_CONTEXT('',{app},'design')")
        definition = self.add(f"PRODUCT_DEFINITION('','',{formation},{definition_context})")
        of = self.add(f"PRODUCT_DEFINITION_SHAPE('','',{definition})")
        self.add(f"SHAPE_DEFINITION_REPRESENTATION({of},{shape})")
        path.write_text(_HEAD + "\n".join(self.lines) + "\nENDSEC;\nEND-ISO-10303-21;\n")


def write_box(path: Path, size, low=(0.0, 0.0, 0.0), unit: str = "mm") -> None:
    """A box as six plane faces."""
    w = _Writer()
    at = {
        (i, j, k): tuple(o + s * c for o, s, c in zip(low, size, (i, j, k), strict=True))
        for i in (0, 1)
        for j in (0, 1)
        for k in (0, 1)
    }
    vertices = {key: w.vertex(p) for key, p in at.items()}
    edges: dict[tuple, str] = {}

    def directed(a, b):
        if (b, a) in edges:
            return edges[b, a], "F"
        if (a, b) not in edges:
            along = w.direction([q - p for p, q in zip(a, b, strict=True)])
            vector = w.add(f"VECTOR('',{along},1.)")
            line = w.add(f"LINE('',{w.point(at[a])},{vector})")
            edges[a, b] = w.edge(line, vertices[a], vertices[b])
        return edges[a, b], "T"

    faces = []
    for axis in range(3):
        for end in (0, 1):
            p, q = [(axis + 1) % 3, (axis + 2) % 3][:: 1 if end else -1]
            ring = []
            for cp, cq in ((0, 0), (1, 0), (1, 1), (0, 1)):
                corner = [0, 0, 0]
                corner[axis], corner[p], corner[q] = end, cp, cq
                ring.append(tuple(corner))
            normal = [0.0, 0.0, 0.0]
            normal[axis] = 1.0 if end else -1.0
            ref = [0.0, 0.0, 0.0]
            ref[p] = 1.0
            plane = w.add(f"PLANE('',{w.placement(at[ring[0]], normal, ref)})")
            faces.append(w.face(plane, [directed(ring[k], ring[(k + 1) % 4]) for k in range(4)]))
    w.write(path, faces, unit)


def write_cylinder(path: Path, radius: float, height: float, unit: str = "mm") -> None:
    """An upright cylinder: one cylindrical face with a seam, two discs."""
    w = _Writer()
    z, x = (0.0, 0.0, 1.0), (1.0, 0.0, 0.0)
    low, high = w.vertex((radius, 0, 0)), w.vertex((radius, 0, height))
    rings = [
        w.add(f"CIRCLE('',{w.placement((0, 0, h), z, x)},{float(radius)!r})") for h in (0, height)
    ]
    bottom, top = w.edge(rings[0], low, low), w.edge(rings[1], high, high)
    vector = w.add(f"VECTOR('',{w.direction(z)},1.)")
    seam = w.edge(w.add(f"LINE('',{w.point((radius, 0, 0))},{vector})"), low, high)
    side = w.add(f"CYLINDRICAL_SURFACE('',{w.placement((0, 0, 0), z, x)},{float(radius)!r})")
    floor = w.add(f"PLANE('',{w.placement((0, 0, 0), (0, 0, -1.0), x)})")
    roof = w.add(f"PLANE('',{w.placement((0, 0, height), z, x)})")
    faces = [
        w.face(side, [(bottom, "T"), (seam, "T"), (top, "F"), (seam, "F")]),
        w.face(floor, [(bottom, "F")]),
        w.face(roof, [(top, "T")]),
    ]
    w.write(path, faces, unit)


def write_faceted(path: Path, vertices, faces, unit: str = "mm") -> None:
    """A closed solid whose faces are plane triangles, (N, 3) and (F, 3), each edge shared by two."""
    w = _Writer()
    corners = [w.vertex(p) for p in vertices.tolist()]
    edges: dict[tuple[int, int], str] = {}

    def directed(a: int, b: int) -> tuple[str, str]:
        if (b, a) in edges:
            return edges[b, a], "F"
        way = vertices[b] - vertices[a]
        along = w.direction((way / np.linalg.norm(way)).tolist())
        vector = w.add(f"VECTOR('',{along},1.)")
        line = w.add(f"LINE('',{w.point(vertices[a].tolist())},{vector})")
        edges[a, b] = w.edge(line, corners[a], corners[b])
        return edges[a, b], "T"

    written = []
    for a, b, c in faces.tolist():
        ahead, aside = vertices[b] - vertices[a], vertices[c] - vertices[a]
        normal = np.cross(ahead, aside)
        frame = w.placement(
            vertices[a].tolist(),
            (normal / np.linalg.norm(normal)).tolist(),
            (ahead / np.linalg.norm(ahead)).tolist(),
        )
        ring = [directed(a, b), directed(b, c), directed(c, a)]
        written.append(w.face(w.add(f"PLANE('',{frame})"), ring))
    w.write(path, written, unit)
