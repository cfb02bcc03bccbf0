"""Aero: what wings and floor can carry, what stands in their flow, and on which axle it rests.

aerofoil       sections of one to four elements          lifting_line   finite wings over the ground
floor          floor, tunnels, diffuser, splitter        obstacles      what stands in the flow
frontal_area   from an outline on a photograph           ride           height against load
"""
