"""Limits on spurious emissions. A guide: local rules and the licence decide."""

#: 47 CFR 97.307(d): transmitters below 30 MHz installed after 1 January 2003, every spurious emission at
#: least this far below the mean power of the fundamental, dB.
FCC_BELOW_30_MHZ_DB = 43.0
