"""Running: how fast it goes, how it stops, how it corners; energy, brakes, gears, a lap.

grip, weights      what the tyres hold, what stands on them     straight      acceleration, top speed, braking
cornering          the lateral limit over speed                 brakes        heat of discs
gears, energy      claimed speeds and ranges                    track, lap    a quasi-steady lap
"""
