"""Whom the demo's photographs are credited to (all invented), and under what licence they may be used."""

PRESS = "Skerry Cars press office (invented)"
MARRAM = "Marram Picture Desk (invented)"
HILL = "Hillside Club photographers (invented)"
EDITORIAL = "Editorial use with credit"
OPEN = "CC BY 4.0"
