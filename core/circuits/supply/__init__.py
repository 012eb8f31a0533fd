"""Direct currents of supplies: leads, fuses, diodes, coils let go, decoupling."""
