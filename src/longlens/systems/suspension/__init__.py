"""Suspension: from measured hardpoints to what the car does.

Positions: :mod:`.corner` (layouts, hardpoints), :mod:`.kinematics` (where everything goes), :mod:`.velocity` (how
fast),
:mod:`.axle` (both sides, roll), :mod:`.beam` (solid axle), :mod:`.reach` (why a position cannot be).
Figures: :mod:`.axes` (signs), :mod:`.geometry` (camber, roll centre, anti-dive …), :mod:`.ratios` (motion ratios),
:mod:`.rates` and :mod:`.bars` (stiffness, frequencies).
Loads: :mod:`.wheel_loads`, :mod:`.forces`, :mod:`.rods`.
From photographs: :mod:`.identify` (which layout), :mod:`.hidden` (points not seen), :mod:`.stances` (stances coupled).
The sheet: :mod:`.sheet` (inputs, outputs), :mod:`.figures` (its steps), :mod:`.answers` (sentences), :mod:`.usual`
(bands).
"""
