"""Limits on spurious emissions. A guide: local rules and the licence decide."""

from math import log10

#: 47 CFR 97.307(d): transmitters below 30 MHz installed after 1 January 2003, every spurious emission at
#: least this far below the mean power of the fundamental, dB.
FCC_BELOW_30_MHZ_DB = 43.0


def itu_attenuation_db(pep_w: float) -> float:
    """Attenuation asked of amateur stations below 30 MHz, dB: 43 + 10 lg PEP[W] or 50, the lesser.

    ITU Radio Regulations Appendix 3 and Recommendation ITU-R SM.329-12 (2012); from memory.
    """
    return min(43 + 10 * log10(pep_w), 50.0)
