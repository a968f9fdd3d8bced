"""Pages that the program shows as they stand: where to start, attitudes, ports."""

__all__ = ["ATTITUDES", "PORT", "START"]

START = """Where the liquid goes when a tank tilts. Three things most people want:

  How steep can I go?
    tanksolve envelope --box 900x300x300mm --fill 42L --pickup suction=450,150,40mm,bore=38mm,facing=down

  How much liquid must be in, for 15 degrees every way?
    tanksolve marks --box 900x300x300mm --pickup suction=450,150,40mm,bore=38mm,facing=down --require 15deg

  A tank file to fill in, with baffles, sumps and ports:
    tanksolve new my_tank.toml

All commands: tanksolve --help. Options of tank, ports and liquid: tanksolve help tank.
Words for attitudes: tanksolve help attitude. Completion in your shell: tanksolve --install-completion."""

ATTITUDES = """An attitude, in every command (--attitude) and in the tank file:
  15deg,-5deg                    pitch and roll as two inclinometers read them:
                                 nose up +, right side down +
  slope=9deg,heading=90deg       a slope and which side is uphill: 0deg nose,
                                 90deg left side, 180deg tail, 270deg right side
  nose_up=10deg                  or nose_down, left_down, right_down; join two
A slope is in degrees (15deg), in grade percent (26.8%) or as a ratio (1:4).

What is required, in every command that judges (--require, repeat for more):
  15deg                          every heading up to that slope
  pitch=20deg,roll=10deg         every pitch and roll in that box
  nose_up=30deg,left_down=15deg  a figure for each side
  slope=9deg,heading=90deg       this one attitude
  brake=0.5g,corner=0.8g         on level ground; 10deg,brake=0.5g on a slope
  NAME                           a published preset: docs/presets.md"""

PORT = """A port is NAME=X,Y,Zmm: from the rear wall, the right wall and the floor. Then,
as needed: ,bore=38mm  ,facing=down (up, forward, rearward, left, right, or two
joined: rearward+down)  ,cover=50mm  ,length=80mm (a strainer)
,rule=wet|dry|none  ,flow=60L/min"""
