"""Physics alone: elastic bodies, contact, friction, cutting forces. It knows no plate, no file and no screen.

Units everywhere in this package: mm, N, MPa, kg, s, rad.
"""
