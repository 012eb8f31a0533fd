"""Filters of a builder's parts: ladder, band-pass, low-pass; and the carrier at the ladder's edge.

The textbook design takes a crystal's reactance as a straight line and comes out some 10 % narrow because of
C0. Here the same coupled-mesh equations are solved with the exact reactance X(f) as the frequency variable:
k and q scale with half the change of X across the pass-band, and the pass-band begins where X(low)(K + 1) =
X(high)(K − 1), K being the largest sum of neighbouring couplings. No iteration over the response is needed
and edges and ripple come out as asked (see `core/stages/filters/ladder_meshes.py`).

Capacitors of a series are then chosen together (`ladder_rounding.py`): least ripple plus loss by reflection
over the inner 80 % of the −3 dB width, with the crystals' own Q, and neither worse than with the nearest
value of each. With *Flatness: with their Q* couplings, end and mesh tunings are fitted to the lossy mesh
equations (`core/circuits/shapes/flat_couplings.py`), so that loss no longer rounds a Butterworth or
Chebyshev shape; the ladder's figures show what that costs. Of the loss only so much is counted as comes out
flattest on capacitors and turns as fitted and is worth what it loses (`ladder_filter.counted_share`), so
that it is never worse than the plain design; where nothing is gained, figures and a finding name the parts
that would. It is no default: at 9 MHz and Q 75 000 new rigs' eight Chebyshev poles in E24 capacitors go
from 1.25 to 0.7 dB of ripple for 0.3 dB of loss, and with pairs of E12 capacitors in parallel to 0.3 dB for
1.9 dB (E96 and an L-network: 3.5 dB); at 20 MHz that takes 10 dB. Pairs are moved over several neighbours,
so that they make up for turns that do not meet the ends. Findings hold width, ripple and return loss
against the same ladder without loss (`ladder_filter.ideal`), and name only remedies that were computed to
mend it (`ladder_cures.py`).

A low-pass's elements are exact: closed forms, and for traps and even orders a synthesis of the response
with those zeros (`circuits/shapes/trapped.py`), the −3 dB point kept where the filter without traps has it.
Capacitors are then rounded and the coils, which come in any value, fitted around them to the best match on
the bands served; where that stays below 32 dB of return loss the capacitors' other neighbours are tried
(`stages/fitting/low_pass_parts.py`). A trap's coil follows from its capacitor; where that leaves too little
to match by, the pair moves as a whole and its capacitor is made up. In which coils several traps lie makes
no difference to exact parts (|S21| depends on where the zeros are alone), so the ways are tried with what
is really taken and the worst harmonic's margin decides (`stages/filters/low_pass.py`). As-built values
count as given and move no trap to another coil.
"""
