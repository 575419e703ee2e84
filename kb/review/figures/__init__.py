"""Figures of the review as small SVG files: axes, points, steps, bars and ranges.

Drawn by a few functions of our own and not by a plotting library: the figures take their
colours from the page (light, dark, print), are read out by their title and description, and
nothing outside is fetched or needed to show them.
"""
