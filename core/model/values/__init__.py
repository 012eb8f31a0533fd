"""What every model is made of: checked numbers, their notation, parts with values as built, errors."""
