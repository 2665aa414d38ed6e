"""Pictures as SVG text in millimetres of paper, and dimensioned sheets as DXF.

Each ``draw_...`` takes a plan, or readings, and gives one picture.  Ink on paper: what a colour says, a hatch, a dash
or a word says too.
"""
