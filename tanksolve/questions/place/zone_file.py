"""The zone of a port as a mesh file."""

from pathlib import Path

from tanksolve.errors import OutputError
from tanksolve.files import check_folder
from tanksolve.geometry.mesh_out import obj_text, stl_bytes
from tanksolve.geometry.zone import three_mf_bytes
from tanksolve.model.tank import Tank
from tanksolve.questions.place.place import Place

__all__ = ["check_zone_path", "write_zone"]


def check_zone_path(path: Path) -> None:
    """Refuse a file that no zone can be written to, before anything is computed.

    Raises OutputError for an unknown suffix or a folder that is not there.
    """
    if path.suffix.lower() not in (".stl", ".obj", ".3mf"):
        raise OutputError(
            f"'{path.suffix.lower()}' is no mesh format",
            where=str(path),
            allowed=".stl, .obj, .3mf",
        )
    check_folder(path, str(path))


def write_zone(result: Place, path: Path) -> None:
    """Write the zone in millimetres, x forward, z up: STL, OBJ or 3MF by the suffix.

    It is written beside the target and renamed, so that no half file is left.
    Raises OutputError for an unknown suffix, a zone that is empty, or an unwritable place.
    """
    check_zone_path(path)
    suffix = path.suffix.lower()
    if result.zone is None:
        raise OutputError("there is no zone to write", where=str(path))
    solid = Tank(f"zone of {result.port}", result.zone.vertices, result.zone.faces)
    if suffix == ".stl":
        data = stl_bytes(solid)
    elif suffix == ".obj":
        data = obj_text(solid).encode()
    else:
        data = three_mf_bytes(solid)
    part = path.with_name(f".{path.name}.part")
    try:
        part.write_bytes(data)
        part.replace(path)
    except OSError as error:
        raise OutputError(f"cannot be written: {error.strerror}", where=str(path)) from error
    finally:
        part.unlink(missing_ok=True)
