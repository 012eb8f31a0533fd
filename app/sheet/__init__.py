"""Paper: schematics, pages, printing.

One frozen `BuildSheet` (`core/rig/paper/build_sheet.py`) holds all that is printed; screen, printer and PDF
are drawn from it alone. `app/sheet/content` turns it into blocks (words, grids, pictures, two columns
beside each other) of sections, which a builder chooses by group (`groups.py`); `app/sheet/flow` measures
the blocks in points, cuts them into pieces that are not cut, and fills pages with these (`packing.py`): a
heading stands with what follows it, a table that goes on has its head again, a narrow one has its lines two
abreast, and where a section begins and how large its drawings are follows from what leaves the least paper
white on the whole sheet; `tests/app/test_sheet.py` holds every page but the last two thirds full in a raster.
Whatever a kind of stage draws (`app/sheet/drawings.py`),
takes at rest (`Resting` in `core/rig/workshop/test_points.py`) and is soldered of beside its circuit
(`Kind.bought`) is on the sheet without a further word. The revision is a digest of the design.
"""
