"""Power amplifiers built of parts.

The knee is no typed figure: it follows from the device's own law at the current that the power takes
(`circuits/power/load_line.py`), and with it the load. Of whole turns on the ferrite cores of the table
those are taken that give the power at either end of the bands, with leakage and the coil's own inductance
counted, for the least current (`stages/power_amplifier/design.py`); a core that the builder names is wound
whatever it lacks, and findings tell. The bias is trimmed on the whole circuit's direct currents; a divider
without a trimmer is the pair of preferred values whose idle current is nearest, and so many diodes stand on
the sink as follow the device best (`stages/power_amplifier/bias.py`).

At work (`stages/power_amplifier/gain.py`) each transistor stands in the same circuit as the current that
its law gives for its drive, beside its capacitances. The gain so found is never above what the device is
known to give at that frequency (`assets/power_devices.json`). A memoryless square law is perfectly straight
in class A: products below −30 dBc are an artefact and not told. A mismatch is harmonic balance at the
fundamental at all phases together (`circuits/power/mismatch.py`). The levels read gain, largest output and
products; the sent harmonics are those of the load line, none below what is measured at best. What the rig
knows besides stands in `rig/power`: facts, the drive each stage needs and has, exposure; its tables in
`rig/sections/power.py`, its rules in `rig/rules/power`, its remedies in `rig/remedies/power.py`.
"""
