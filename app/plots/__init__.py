"""One file a plot; `base` holds what they share.

A plot: a frozen picture and a pure `picture_of(analysis, held, look)` in `app/pictures/`, tested without a
window; a `Drawn` plot in `app/plots/` whose `draw` paints from the picture alone, with `put`,
`show_shapes`, `labels.show` and `frame` on items made once. `Drawn.show_picture` compares the picture
whole, so nothing is remembered by hand. A `Label` goes where nothing is drawn (`app/plots/labels.py`), for
which it may have further points (`also`).
"""
