"""Every result declared once: its name, unit, digits, what it is, where it comes from and how it is got."""
