"""Structure: what a crash structure must take up, what tubes and sections carry, what materials were seen.

crash       energy, deceleration, class rules, walls     sections   bending and torsion of simple sections
members     tubes as columns and ties                    observed   weld beads, weave, machining marks
"""
