"""Cooling: does it close with the power, and how is it plumbed.

air, liquids       what flows                      friction, fins, effectiveness   the correlations
core               one heat exchanger              components, hydraulics          parts and flows
airside            ram, fan, duct, drag            balance, valves, network        temperatures, all together
"""
