"""The demo's invented motorcycle; no maker builds it, and every number is made up."""

from __future__ import annotations

from strandline.pool.invented import KIND

NAME = KIND

TOML = f"""\
# An invented motorcycle for the demo: no maker builds it, and every number is made up.
format = 1
name = "{NAME}"
use = "street"
wheelbase = "1440 mm"
mass = "196 kg"
total_limit = "395 kg"
note = "Invented for the demo."

[front]
limit = "155 kg"
wheel_load = "96 kg"
rake = "26 deg"
wheel_travel = "108 mm"
unsprung = "17 kg"
tyre_solo = "2.3 bar"
tyre_loaded = "2.5 bar"

[rear]
limit = "230 kg"
wheel_load = "100 kg"
motion_ratio = 0.85
wheel_travel = "118 mm"
unsprung = "19 kg"
tyre_solo = "2.5 bar"
tyre_loaded = "2.9 bar"

# Shaft and marker as in the sample photo of an upside-down fork.
[leg.front-left]
layout = "upside-down-fork"
shaft = "41.01 mm"
extended = "190 mm"
stroke = "120 mm"

[leg.front-left.marker]
kind = "tie"
width = "4.8 mm"
color = "orange"

[leg.front-left.spring]
rate = "8.5 N/mm"
preload_at_soft = "22 mm"

[leg.front-left.adjuster.preload]
kind = "turns"
steps = "7 turns"
step = "2.0 mm"
standard = "1 turns"

[leg.front-right]
same_as = "front-left"

# Shaft and marker as in the sample photo of a shock inside its spring.
[leg.rear-left]
layout = "shock"
shaft = "13.97 mm"
extended = "90 mm"
bumper_free = "16 mm"
bumper_crushed = "6 mm"

[leg.rear-left.marker]
kind = "o-ring"
width = "2.0 mm"
color = "black"

[leg.rear-left.spring]
rate = "15 N/mm"
preload_at_soft = "15 mm"

[leg.rear-left.adjuster.preload]
kind = "clicks"
steps = "15 clicks"
step = "1.0 mm"
standard = "4 clicks"

[leg.rear-right]
same_as = "rear-left"
"""
