"""A small study to run in tests: a box, its length, its suction and its fill."""

BOX = """tanksolve_file = 1
name = "box"
fill = "30 L..42 L"
[tank]  # a comment that the winners keep
shape = "box"
length = "900 mm"
width = "300 mm"
height = "300 mm"
[[port]]
name = "suction"
kind = "pickup"
at = "450, 150, 40 mm"
bore = "38 mm"
facing = "down"
[[port]]
name = "no. 2"
kind = "breather"
at = "450, 150, 300 mm"
bore = "20 mm"
facing = "down"
[liquid]
density = "870 kg/m3"
"""
STUDY = """tanksolve_study = 1
name = "how long a box"
tank = "box.toml"
compute = ["worst_slope", "capacity", "liquid_mass"]
[settings]
tolerance = "2 deg"
search_to = "40 deg"
headings_every = "90 deg"
[[vary]]
key = "tank.length"
from = "600 mm"
to = "1000 mm"
step = "100 mm"
[[vary]]
key = "port.suction.at.up"
values = ["20 mm", "40 mm", "400 mm"]
[[vary]]
key = "fill"
values = ["30 L", "30 L..42 L"]
[[want]]
measure = "worst_slope"
at_least = "5 deg"
aim = "most"
[[want]]
measure = "capacity"
aim = "least"
"""


def written(folder, study=STUDY, tank=BOX):
    """The study file in ``folder``, its tank beside it."""
    (folder / "box.toml").write_text(tank)
    (folder / "study.toml").write_text(study)
    return folder / "study.toml"
