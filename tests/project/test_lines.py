import tomllib

from tanksolve.project.lines import line_numbers, line_of

TEXT = '''# first
a = 1
"b c" = 2
d.e = [
  1,  # ] not the end
  "]",
]
f = """
g = not a key
"""
[t]
x = { y = 1, z = [1,
  2] }
[[s]]
n = 1
[[s.u]]
m = 2
[[s.u]]
m = 3
[[s]]
n = 4  # [not]
[[s.u]]
m = 5
[s.v]
k = 'a = "b'
'''


def test_every_key_is_on_its_line():
    tomllib.loads(TEXT)
    found = line_numbers(TEXT)
    assert found == {
        ("a",): 2,
        ("b c",): 3,
        ("d", "e"): 4,
        ("f",): 8,
        ("t",): 11,
        ("t", "x"): 12,
        ("s",): 14,
        ("s", 0): 14,
        ("s", 0, "n"): 15,
        ("s", 0, "u"): 16,
        ("s", 0, "u", 0): 16,
        ("s", 0, "u", 0, "m"): 17,
        ("s", 0, "u", 1): 18,
        ("s", 0, "u", 1, "m"): 19,
        ("s", 1): 20,
        ("s", 1, "n"): 21,
        ("s", 1, "u"): 22,
        ("s", 1, "u", 0): 22,
        ("s", 1, "u", 0, "m"): 23,
        ("s", 1, "v"): 24,
        ("s", 1, "v", "k"): 25,
    }


def test_a_key_inside_an_inline_table_is_told_by_what_holds_it():
    found = line_numbers(TEXT)
    assert line_of(("t", "x", "y"), found) == 12
    assert line_of(("nowhere",), found) is None
